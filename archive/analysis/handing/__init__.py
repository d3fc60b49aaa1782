"""What an analysis hands over: words on method, programs that make it again, long tables."""
