"""Take the README's pictures anew from a demo that is being served: a script, not a test.

make demo PORT=8123
.venv/bin/python tests/journeys/shots.py http://127.0.0.1:8123
"""

import sys
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.plugins.browser import ARGUMENTS, WANTED, chromium  # noqa: E402  # why: the path first

FOLDER = ROOT / "fixtures" / "demo" / "shots"
PASSWORD = "what one tide leaves"
MOST_BYTES = 200_000


@dataclass(frozen=True)
class Shot:
    """One picture: who looks, at which page, and how it is reached from there by its links."""

    name: str
    who: str
    begins: str
    links: tuple[str, ...] = ()
    wide: int = 1280
    high: int = 1000


SHOTS = (
    Shot("today", "isolde.marrack@skerrywick.example", "/", high=930),
    Shot("question", "tam.oduya@skerrywick.example", "/questions/12/", high=900),
    Shot(
        "study",
        "isolde.marrack@skerrywick.example",
        "/studies/",
        ("Aeration and the hatching of cuttlefish egg strings",),
        high=1080,
    ),
    Shot("decide", "ruth.amankwah@skerrywick.example", "/", ("Decide",), high=1180),
    Shot("report", "mirela.okonjo@norrholm.example", "/", ("See the findings",), high=1200),
    Shot("dataset", "noor.castellane@norrholm.example", "/archive/", (", 2024–25",), high=1100),
    Shot("oversight", "edda.thorne@skerrywick.example", "/oversight/", high=1480),
    Shot(
        "phone",
        "tam.oduya@skerrywick.example",
        "/search/?q=Morwen",
        ("Morwen",),
        wide=390,
        high=1180,
    ),
)


def take(browser: Browser, site: str, shot: Shot) -> None:
    """Sign in, go to the page, and keep its upper part."""
    context = browser.new_context(viewport={"width": shot.wide, "height": shot.high})
    page = context.new_page()
    page.goto(f"{site}/sign-in/")
    page.get_by_label("E-mail").fill(shot.who)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.goto(f"{site}{shot.begins}")
    for link in shot.links:
        follow(page, link)
    path = FOLDER / f"{shot.name}.png"
    page.screenshot(path=path)
    size = path.stat().st_size
    print(f"{path.relative_to(ROOT)}: {size:,} bytes{' - TOO LARGE' * (size > MOST_BYTES)}")
    context.close()


def follow(page: Page, link: str) -> None:
    """Follow the first link of the page's main part whose words hold these."""
    page.locator("main").get_by_role("link", name=link).first.click()
    page.wait_for_load_state()


def main() -> None:
    """Take every picture."""
    path = chromium()
    if path is None or len(sys.argv) != 2:
        sys.exit(WANTED if path is None else __doc__)
    FOLDER.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        for shot in SHOTS:
            take(browser, sys.argv[1].rstrip("/"), shot)
        browser.close()


if __name__ == "__main__":
    main()
