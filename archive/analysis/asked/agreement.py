"""Agreement of observers asked of a table in which several coded the same moments."""

from itertools import combinations

import numpy as np

from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.columns import Coded
from archive.analysis.gaps import Gap
from archive.analysis.reliability.pairs import agreement, stepped
from archive.analysis.reliability.several import fleiss_kappa, krippendorff_alpha
from registry.design import bounds
from registry.errors import Unsound

type Sheet = np.ndarray[tuple[int, int], np.dtype[np.int32]]


def observers(frame: Frame, request: Request, ethogram: tuple[str, ...] = ()) -> Found:
    """Give kappa of each pair of observers, and alpha of all.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots moment, observer, behaviour, session; option ranked, the codes in their order, for
        a weighted kappa.
    ethogram : tuple of str
        Every code; empty takes those that were used, and coverage then says nothing.
    """
    gaps: list[Gap] = []
    moment, observer, behaviour = (
        frame.words(request.column(one)) for one in ("moment", "observer", "behaviour")
    )
    session = frame.words(request.column("session")) if request.column("session") else None
    ranked = tuple(request.options.get("ranked") or ())
    codes = ranked or ethogram or tuple(sorted(behaviour.words))
    if not ethogram and not ranked:
        gaps.append(
            Gap("Coverage of the ethogram is not known.", "The dictionary holds no ethogram.")
        )
    apart = stepped(len(codes)) if ranked else None
    sheet, sessions = _sheet(moment, observer, behaviour, session, gaps)
    if len(observer.words) < 2:
        bounds.refuse("observer", "No agreement can be computed.", "There is but one observer.",
                      "Let two observers code the same moments.")  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    weighted: list[tuple[Cell, ...]] = []
    for one, other in combinations(range(len(observer.words)), 2):
        names = observer.words[one], observer.words[other]
        pair = [Coded(sheet[at], behaviour.words) for at in (one, other)]
        try:
            found = agreement(pair[0], pair[1], codes, session=sessions, disagreement=apart)
        except Unsound as refused:
            gaps.append(Gap(f"{names[0]} and {names[1]}: {refused.what}", refused.why))
            continue
        kappa = found.kappa
        kappas = (kappa.value, kappa.low, kappa.high) if kappa else (None, None, None)
        same = found.same
        rows.append(
            (" and ".join(names), found.n, same.value, same.low, same.high, *kappas,
             found.covered.seen, found.covered.of)
        )  # fmt: skip
        if found.weighted is not None:
            one_row = found.weighted.value, found.weighted.low, found.weighted.high
            weighted.append((" and ".join(names), *one_row))
        gaps += found.gaps
    heads = (
        "observers", "moments", "coded alike", "from", "to", "kappa", "kappa from", "kappa to",
        "behaviours seen",
        "behaviours in all",
    )  # fmt: skip
    tables = [Table("pairs", "Agreement of each pair of observers", heads, tuple(rows))]
    if weighted:
        title = "Weighted kappa of codes in their order, each step as bad as the next"
        of_weights = ("observers", "weighted kappa", "from", "to")
        tables.append(Table("weighted", title, of_weights, tuple(weighted)))
    tables += _fleiss(sheet, behaviour, gaps)
    try:
        values = np.where(sheet >= 0, sheet.astype(float), np.nan)
        alpha = krippendorff_alpha(values)
        row = ("all observers", alpha.value, alpha.low, alpha.high)
        tables.append(
            Table("alpha", "Krippendorff’s alpha", ("observers", "alpha", "from", "to"), (row,))
        )
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
    said = tuple(
        f"{row[0]}: {100 * float(row[2] or 0):.0f} per cent of {row[1]} moments coded alike"
        + ("." if row[5] is None else f", kappa {row[5]:.2f}.")
        for row in rows
    )
    return Found(said, tuple(tables), gaps=tuple(gaps))


def _fleiss(sheet: Sheet, behaviour: Coded, gaps: list[Gap]) -> list[Table]:
    """Give Fleiss' kappa of three observers or more, of the moments that all of them coded."""
    if len(sheet) < 3:
        return []
    all_of_them = (sheet >= 0).all(axis=0)
    codes = range(len(behaviour.words))
    counts = np.stack([(sheet[:, all_of_them] == one).sum(axis=0) for one in codes], axis=1)
    try:
        found = fleiss_kappa(counts)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    row = ("all observers", int(all_of_them.sum()), found.value, found.low, found.high)
    heads = ("observers", "moments", "kappa", "from", "to")
    return [Table("fleiss", "Fleiss’ kappa, of moments that all coded", heads, (row,))]


def _sheet(
    moment: Coded, observer: Coded, behaviour: Coded, session: Coded | None, gaps: list[Gap]
) -> tuple[Sheet, Coded | None]:
    """Lay one row for each observer and one column for each moment; −1 where there is no code."""
    keep = moment.known & observer.known & behaviour.known
    leave_out(keep, "A moment, observer or code is missing.", gaps)
    sheet = np.full((len(observer.words), len(moment.words)), -1, dtype=np.int32)
    sheet[observer.codes[keep], moment.codes[keep]] = behaviour.codes[keep]
    if int(keep.sum()) > int((sheet >= 0).sum()):
        gaps.append(
            Gap(
                f"{int(keep.sum()) - int((sheet >= 0).sum())} codes were given twice.",
                "An observer coded a moment more than once; the last one counts.",
            )
        )
    if session is None:
        return sheet, None
    of_moment = np.full(len(moment.words), -1, dtype=np.int32)
    of_moment[moment.codes[keep]] = session.codes[keep]
    return sheet, Coded(of_moment, session.words)
