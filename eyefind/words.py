"""Words that several parts say alike."""


def counted(count: int, thing: str) -> str:
    """Return a number with its noun: ``"1 cut"``, ``"3 cuts"``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
