"""Sizes in bytes and lengths of time, said as people do."""


def size(count: int) -> str:
    """Say a number of bytes as people do.

    >>> size(1_000_000_000), size(1500), size(12)
    ('1 GB', '1.5 kB', '12 bytes')
    """
    for unit, step in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if count >= step:
            return f"{count / step:.3g} {unit}"
    return f"{count} byte" if count == 1 else f"{count} bytes"


def span(seconds: int) -> str:
    """Say a length of time as people do.

    >>> span(7200), span(90), span(1)
    ('2 hours', '90 seconds', '1 second')
    """
    for unit, step in (("hour", 3600), ("minute", 60), ("second", 1)):
        if seconds % step == 0:
            count = seconds // step
            return f"{count} {unit}" if count == 1 else f"{count:,} {unit}s"
    return f"{seconds:,} seconds"
