"""How long the server takes for each page of a large collection; 100 ms is what it may take.

`--postgres` asks on a temporary PostgreSQL server; a word after it asks only for the addresses
that hold it.
"""

import sys

from tests.benchmarks._surroundings import large, run


def main() -> None:
    """Lay out the collection, and ask."""
    asked = [word for word in sys.argv[1:] if word != "--postgres"]
    on_postgres = "--postgres" in sys.argv
    with large(on_postgres=on_postgres) as around:
        run("_asking", around, "pages on PostgreSQL" if on_postgres else "pages", *asked)


if __name__ == "__main__":
    main()
