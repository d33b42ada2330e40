"""How a number stands on screens, on paper and in mails: in full, never with an exponent."""

from __future__ import annotations

from decimal import Decimal

GAP = "\N{NO-BREAK SPACE}"
"""Between groups of three digits, as ISO 80000-1 writes them; it does not break at the end of a line."""
UNGROUPED = 10_000
"""Below it four digits stand together, as on a tape and on plans (common practice; ISO 80000-1 allows it)."""
PLACES = 6


def write_number(value: float) -> str:
    """A number in full, without trailing zeros, in groups of three from five digits on.

    >>> write_number(1_000_000.0).replace(GAP, " "), write_number(616.0), write_number(0.05)
    ('1 000 000', '616', '0.05')
    """
    exact = Decimal(repr(round(float(value), PLACES)))
    if not exact.is_finite():
        return str(value)
    words = f"{exact:,f}" if abs(exact) >= UNGROUPED else f"{exact:f}"
    whole, _point, part = words.partition(".")
    part = part.rstrip("0")
    whole = "0" if whole == "-0" and not part else whole
    return whole.replace(",", GAP) + (f".{part}" if part else "")
