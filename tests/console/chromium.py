"""Chromium for the tests of the page: headless, with a folder of its own, and nothing fetched beside the page."""
import shutil
import time

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By


def browser(folder):
    options = Options()
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
                     "--disable-background-networking", "--disable-component-update", "--disable-sync", "--window-size=1280,800",
                     f"--user-data-dir={folder}/chromium"):
        options.add_argument(argument)
    options.binary_location = shutil.which("chromium")
    return webdriver.Chrome(service=Service(shutil.which("chromedriver")), options=options)


def until(page, what, condition, picture, seconds=40):
    """Waits for a condition; a page on which it never comes about is photographed, and its text is said."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            if condition():
                return
        except Exception:  # the page was drawn anew between two looks
            pass
        time.sleep(0.1)
    page.save_screenshot(picture)
    raise SystemExit(f"waited in vain for: {what}; the page shows: {page.find_element(By.TAG_NAME, 'body').text}")


def touch(page, part):
    """A finger on a part, as a touch screen tells of it."""
    x, y = page.execute_script("""arguments[0].scrollIntoView({ block: 'center', behavior: 'instant' });
        const box = arguments[0].getBoundingClientRect(); return [box.left + box.width / 2, box.top + box.height / 2];""", part)
    page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    return True
