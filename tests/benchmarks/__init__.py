"""What takes time is measured here, each case beside what it is compared with; none is a test."""
