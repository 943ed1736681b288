"""The account of a shift: one balanced factory with figures, ledgers, suspects and sentences.

From a notebook:

    from canewright.account import balance
    account = balance("factory.toml", "readings.csv")
    print(account.verdict)
    account.statements["sucrose_extraction"].interval
    account.ledgers["sucrose"].rows
"""

from canewright.account.account import Account, account_of, balance
from canewright.account.lines import LedgerAccount, LedgerLine, ReadingLine

__all__ = ["Account", "LedgerAccount", "LedgerLine", "ReadingLine", "account_of", "balance"]
