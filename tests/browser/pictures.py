"""Takes the pictures of the tutorials from a running demo, and keeps them small.

python manage.py demo                       # in another window
python -m tests.browser.pictures http://127.0.0.1:8000
"""

import io
import sys

from PIL import Image
from playwright.sync_api import sync_playwright

from tests.source_files import ROOT

PASSWORD = "quill-and-water-2031"
OUT = ROOT / "docs" / "pictures"
DESK, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 800}
COLORS = 64
PICTURES = (  # name, who, address, what is clicked on the way, size
    ("manager_board", "manager", "/", "", DESK),
    ("manager_neighborhoods", "manager", "/inventory/neighborhoods/", "", DESK),
    ("manager_line", "manager", "/inventory/lines/?category=LEAD", "main tbody a", DESK),
    ("manager_plan", "manager", "/program/plan/", "main tbody a", DESK),
    ("contractor_board", "heron", "/", "", PHONE),
    ("contractor_order", "heron", "/work/orders/?state=released", "main tbody a", PHONE),
    ("contractor_truck", "heron", "/work/phone/", "", PHONE),
    ("compliance_board", "compliance", "/", "", DESK),
    ("compliance_deadlines", "compliance", "/program/deadlines/", "", DESK),
    ("compliance_submissions", "compliance", "/program/submissions/", "", DESK),
    ("admin_board", "admin", "/", "", DESK),
    ("admin_people", "admin", "/program/people/", "", DESK),
)


def main(site: str) -> None:
    """Sign in as each, open each page, and keep its picture."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-quic"]
        )
        for name, who, address, click, size in PICTURES:
            page = browser.new_page(viewport=size)
            page.goto(f"{site}/sign-in/")
            page.fill("[name=username]", who)
            page.fill("[name=password]", PASSWORD)
            page.press("[name=password]", "Enter")
            page.wait_for_url(lambda url: "/sign-in/" not in url)
            page.goto(site + address)
            if click:
                page.locator(click).first.click()
            page.wait_for_load_state("networkidle")
            picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
            picture.quantize(COLORS).save(OUT / f"{name}.png", optimize=True)
            page.close()
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1].rstrip("/"))
