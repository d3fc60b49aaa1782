"""Remove what broken-off work has left in the store and in quarantine."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from archive.acceptance import erase_bytes
from archive.models import Version
from archive.places import quarantine, store
from archive.rounds import unspoken
from registry.animals.models import Photograph
from registry.animals.pictures.keeping import orphans
from registry.uploads import sweep_uploads

DAY_S = 86_400


class Command(BaseCommand):
    help = (
        "Remove objects of the store that no version speaks of and that are older than a day, the"
        " bytes of erased versions, photographs of no mark, and what broken-off uploads have left."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--list", action="store_true", help="only say what would go")
        parser.add_argument("--older-than", type=int, default=DAY_S, metavar="SECONDS")

    def handle(self, *_args: Any, **options: Any) -> None:
        held, age = store(), options["older_than"]
        rows = dict(Version.objects.values_list("identifier", "state"))
        unnamed = [
            name for name in list(held.object_ids()) if name not in rows and held.age_s(name) >= age
        ]
        erased = [name for name in held.object_ids() if rows.get(name) == "erased"]
        for name in unnamed:
            self.stdout.write(f"{name}: no version speaks of it")
            if not options["list"]:
                held.erase(name)
        for name in erased:
            self.stdout.write(f"{name}: erased, and its bytes are still here")
            if not options["list"]:
                erase_bytes(Version.objects.select_related("deposit").get(identifier=name))
        left = unspoken(older_than_s=age)
        for key in left:
            self.stdout.write(f"{key}: an upload that broke off, and that no deposit speaks of")
            if not options["list"]:
                quarantine().discard(key)
        pictures = orphans(_pictures(), older_than_s=age)
        for path in pictures:
            self.stdout.write(f"{path.stem}: a photograph that no mark speaks of")
            if not options["list"]:
                path.unlink(missing_ok=True)
        pieces = 0
        if not options["list"]:
            pieces = held.sweep_staging(older_than_s=age, spoken=rows) + quarantine().sweep(
                older_than_s=age
            )
            pieces += sweep_uploads(older_than_s=age)
        verb = "would go" if options["list"] else "gone"
        self.stdout.write(
            f"{len(unnamed) + len(erased)} objects, {len(left)} uploads,"
            f" {len(pictures)} photographs and {pieces} pieces {verb}."
        )


def _pictures() -> set[str]:
    """Give the digests of every photograph in both sizes, also of those withdrawn."""
    held = Photograph.objects.values_list("sha256", "small_sha256")
    return {digest for both in held.iterator() for digest in both}
