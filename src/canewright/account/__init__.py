"""The account of a shift: one balanced factory with figures, ledgers, suspects and sentences.

From a notebook:

    from canewright.account import balance
    account = balance("factory.toml", "readings.csv")
    print(account.verdict)
    account.statements["sucrose_extraction"].interval
    account.ledgers["sucrose"].rows

What is named here is read when it is asked for: the workers of a study need none of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from canewright.account.account import Account, account_of, balance
    from canewright.account.lines import LedgerAccount, LedgerLine, ReadingLine

__all__ = ["Account", "LedgerAccount", "LedgerLine", "ReadingLine", "account_of", "balance"]

_HOMES = {
    "Account": "account",
    "account_of": "account",
    "balance": "account",
    "LedgerAccount": "lines",
    "LedgerLine": "lines",
    "ReadingLine": "lines",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
