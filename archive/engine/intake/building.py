"""Makes the recipe that a proposal and its answers come to."""

from collections.abc import Mapping
from typing import Any

from archive.engine.intake.decisions import FIELD, LEAVE, OWN, STANDS, Proposal
from archive.engine.intake.recipe import ColumnRule, Recipe
from registry.errors import Unsound


def recipe_of(
    proposal: Proposal, answers: Mapping[str, str], *, is_preview: bool = False
) -> Recipe:
    """Build the recipe of a proposal.

    Parameters
    ----------
    proposal : Proposal
        What was proposed.
    answers : mapping of key to value
        What the person chose instead.
    is_preview : bool
        Whether what is asked and not answered may be left as it stands, for a look at the result.

    Raises
    ------
    Unsound
        When something asked was not answered, or two columns are to be one field.
    """
    if is_preview:
        chosen = {one.key: answers.get(one.key) or one.chosen for one in proposal.decisions}
    else:
        chosen = proposal.chosen(answers)
    fields = {one["name"]: one for one in proposal.frame["fields"]}
    rules = tuple(_rule(label, at, chosen, fields) for at, label in enumerate(proposal.labels))
    made = [rule.name for rule in rules if rule.name]
    twins = sorted({name for name in made if made.count(name) > 1})
    if twins and not is_preview:
        raise Unsound(
            "The file was not converted.",
            f"Two columns are to be {twins[0]}.",
            "Choose one of them, and leave the other out or give it another field.",
            fields={
                f"column:{at}": f"Also another column is {rule.name}."
                for at, rule in enumerate(rules)
                if rule.name in twins
            },
        )
    kept = [
        name
        for at, name in enumerate(fields)
        if name in made or chosen.get(f"absent:{at}") == "write empty"
    ]
    order = (*kept, *[name for name in dict.fromkeys(made) if name not in fields])
    first, rows = proposal.frame["header"]
    return Recipe(
        table=proposal.table,
        kind=proposal.kind,
        encoding=chosen.get("encoding", ""),
        delimiter=chosen.get("delimiter", ""),
        quote=chosen.get("quote", ""),
        sheet=chosen.get("sheet", ""),
        header_first=first,
        header_rows=rows,
        end=chosen.get("end") or "all",
        narrow_cells=proposal.frame["narrow_cells"],
        blanks=chosen.get("blanks", "leave out"),
        repeats=chosen.get("repeats") or "keep",
        sums=chosen.get("sums") or "keep",
        merges=chosen.get("merges", "first"),
        hidden_rows=chosen.get("hidden_rows") or "keep",
        errors=chosen.get("errors", "blank"),
        columns=rules,
        order=order,
    )


def _rule(
    label: str, at: int, chosen: Mapping[str, str], fields: Mapping[str, Mapping[str, Any]]
) -> ColumnRule:
    what = chosen.get(f"column:{at}") or (OWN if label else LEAVE)
    if what == LEAVE:
        return ColumnRule(label, at, "")
    field = fields.get(what.removeprefix(FIELD)) if what.startswith(FIELD) else None
    read = {
        key: chosen.get(f"{key}:{at}", "").replace(STANDS, "")
        for key in ("dates", "serial", "swap", "clock", "decimal")
    }
    pad = chosen.get(f"pad:{at}", "")
    return ColumnRule(
        label=label,
        position=at,
        name=str(field["name"]) if field else label,
        type=str(field["type"]) if field else "any",
        format=str(field["format"]) if field else "default",
        **read,
        pad=int(pad) if pad.isdigit() else 0,
        words=tuple(field["words"]) if field else (),
    )
