"""The recipes of a deposit: which of its files were made from others."""

from archive.models import Deposit, IntakeRecipe, Mending


def recipes_in(deposit: Deposit) -> dict[str, IntakeRecipe]:
    """Give the recipe of each file that counts now and was made by one, by the file's name."""
    made = {
        (one.result.name, one.result_sha256): one
        for one in IntakeRecipe.objects.filter(result__deposit=deposit)
        .select_related("source", "result", "made_by")
        .order_by("made_at", "pk")
    }
    live = [*deposit.files.filter(is_dropped=False).values_list("name", "sha256")]
    live += [(one.source.name, one.source.sha256) for one in mendings_in(deposit)]
    return {name: made[name, sha256] for name, sha256 in live if (name, sha256) in made}


def mendings_in(deposit: Deposit) -> list[Mending]:
    """Give the corrections that led to the files that count now, the newest first."""
    live = set(deposit.files.filter(is_dropped=False).values_list("name", "sha256"))
    led = []
    made = Mending.objects.filter(result__deposit=deposit).select_related("source", "result")
    for one in made.order_by("-made_at", "-pk"):
        if (one.result.name, one.result.sha256) in live:
            live.add((one.source.name, one.source.sha256))
            led.append(one)
    return led
