"""Amounts of money are kept in the currency's smallest coin."""

from decimal import Decimal

# ISO 4217 gives each currency its number of decimals; these differ from two. From memory of the standard's
# list of currencies.
_NO_DECIMALS = frozenset(
    {
        "BIF",
        "CLP",
        "DJF",
        "GNF",
        "ISK",
        "JPY",
        "KMF",
        "KRW",
        "PYG",
        "RWF",
        "UGX",
        "VND",
        "VUV",
        "XAF",
        "XOF",
        "XPF",
    }
)
_THREE_DECIMALS = frozenset({"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"})


def decimals_of(currency: str) -> int:
    """How many decimals amounts in this currency have."""
    if currency in _NO_DECIMALS:
        return 0
    return 3 if currency in _THREE_DECIMALS else 2


def amount_of(minor: int, currency: str) -> Decimal:
    """The amount in whole units: 4500 in EUR is 45.00."""
    return Decimal(minor).scaleb(-decimals_of(currency))


def minor_of(amount: Decimal, currency: str) -> int:
    """The amount in smallest coins. Raises ValueError when it is finer than the smallest coin."""
    minor = amount.scaleb(decimals_of(currency))
    if minor != minor.to_integral_value():
        raise ValueError(f"{amount} is finer than the smallest coin of {currency}")
    return int(minor)
