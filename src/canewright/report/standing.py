"""The words that stand on every report, whatever it says."""

from __future__ import annotations

from canewright.report.words import _


def standing_words() -> dict[str, str]:
    """Words of the form itself, in the language spoken, by key."""
    return {
        "invented": _("Invented: a made-up factory and made-up readings, of no real place."),
        "page": _("page"),
        "of": _("of"),
        "definitions": _("Definitions of the figures"),
        "sources": _("Sources"),
        "cautions": _("Cautions"),
        "signatures": _("Signatures"),
        "name_and_date": _("name, signature, date"),
        "signed_by": _("Signed"),
        "same_again": _("Same again"),
        "fingerprint": _("fingerprint of this report"),
        "engine": _("canewright"),
        "sources_table": _("table of sources"),
        "verify": _(
            "The report carries its own data. `canewright report --verify FILE` makes it again "
            "from the files above and says whether it is the same, and if not, what moved."
        ),
        "intervals": _(
            "± 95 %: half of the interval that holds the true value with 95 % probability, as far "
            "as the stated uncertainties of the instruments are right."
        ),
        "factory": _("factory file"),
        "readings": _("readings"),
        "stops": _("log of stops"),
        "plan": _("plan"),
        "last season": _("last season"),
        "document": _("document"),
        "figure": _("figure"),
        "unit": _("unit"),
        "definition": _("definition"),
        "formula": _("formula"),
        "source": _("source"),
        "number": _("number"),
        "known": _("known"),
    }
