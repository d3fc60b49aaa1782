"""What every test run stands on: surroundings, a database server, a browser, an honest count."""
