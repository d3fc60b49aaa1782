"""What leaves the archive: identifiers, citations, descriptors, safe copies and tombstones."""
