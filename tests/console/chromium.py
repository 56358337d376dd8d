"""Chromium for the tests of the page: headless, with a folder of its own, and nothing fetched beside the page."""
import shutil
import time

from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement


class Part(WebElement):
    """Of a page that may be drawn anew at any moment: what was asked for by its name is then asked for again, not one of a list, whose
    place may be another's by now."""
    name = None

    def _execute(self, command, params=None):
        try:
            return super()._execute(command, params)
        except StaleElementReferenceException:
            if self.name is None:
                raise
            self._id = self.parent.find_element(*self.name).id
            return super()._execute(command, params)


class Page(webdriver.Chrome):
    _web_element_cls = Part

    def find_element(self, by=By.ID, value=None):
        part = super().find_element(by, value)
        part.name = (by, value)
        return part


def browser(folder, window=False, arguments=(), preferences=None):
    options = Options()
    options.add_experimental_option("prefs", preferences or {})
    for argument in (*([] if window else ["--headless=new"]), *arguments, "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
                     "--disable-background-networking", "--disable-component-update", "--disable-sync", "--window-size=1280,800",
                     f"--user-data-dir={folder}/chromium"):
        options.add_argument(argument)
    options.binary_location = shutil.which("chromium")
    return Page(service=Service(shutil.which("chromedriver")), options=options)


def until(page, what, condition, picture, seconds=40, pause_s=0.1):
    """Waits for a condition; a page on which it never comes about is photographed, and its text is said."""
    end, trouble = time.monotonic() + seconds, None
    while time.monotonic() < end:
        try:
            if condition():
                return
            trouble = None
        except Exception as each:  # the page was drawn anew between two looks: looked at again, and said if it stays
            trouble = each
        time.sleep(pause_s)
    page.save_screenshot(picture)
    raise SystemExit(f"waited in vain for: {what}; {trouble or ''} the page shows: {page.find_element(By.TAG_NAME, 'body').text}")


def shown(page, selector):
    """The parts that are seen, found in one look."""
    return page.execute_script("return [...document.querySelectorAll(arguments[0])].filter((each) => each.checkVisibility())", selector)


def text_of(page, selector):
    """What is read there, in one look."""
    return page.execute_script("""return [...document.querySelectorAll(arguments[0])].filter((each) => each.checkVisibility())
        .map((each) => each.innerText.trim()).join(' ');""", selector)


def touch(page, part):
    """A finger on a part, as a touch screen tells of it."""
    x, y = page.execute_script("""arguments[0].scrollIntoView({ block: 'center', behavior: 'instant' });
        const box = arguments[0].getBoundingClientRect(); return [box.left + box.width / 2, box.top + box.height / 2];""", part)
    page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    return True
