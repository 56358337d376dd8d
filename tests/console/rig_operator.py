"""Who works at the rig in the tests of work on it: a finger, on the page in German."""
import json
import os
import time
import urllib.request

from chromium import shown, text_of, touch, until

SHAPES = ((1280, 800), (1920, 1080), (800, 1280), (390, 844))
STEP_S = 120


class Operator:
    """A finger on what is shown."""

    def __init__(self, page, output, name, axe=None):
        self.page, self.output, self.name, self.axe, self.findings = page, output, name, axe, []

    def shown(self, selector):
        return shown(self.page, selector)

    def text(self, selector):
        return text_of(self.page, selector)

    def until(self, what, condition, seconds=STEP_S):
        until(self.page, what, condition, os.path.join(self.output, f"{self.name}-failed.png"), seconds)

    def touch(self, part):
        return touch(self.page, part)

    def press(self, words):
        self.until(f"a button '{words}'", lambda: self.touch(next(each for each in self.shown("button, summary") if each.text.startswith(words))))

    def type_into(self, field, text):
        self.touch(field)
        self.until("the field", lambda: self.page.switch_to.active_element == field)
        self.page.execute_script("arguments[0].select()", field)
        self.page.execute_cdp_cmd("Input.insertText", {"text": text})

    def title(self, words, seconds=STEP_S):
        self.until(f"'{words}'", lambda: self.text("#title").startswith(words), seconds)

    def go_to_rig(self):
        self.press("Menü")
        self.press("Auswuchtbank: Eignung")
        self.until("the rig's page", lambda: self.shown("#rig-stands"))

    def sends_hands(self):
        return bool(self.text("#fit")) or self.text("#title").startswith(("Prüf", "Mess"))

    def keep(self, name, in_one_look=()):
        """Screens of all sizes, light and dark. @param in_one_look what is seen without scrolling."""
        for width, height in SHAPES:
            self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
            self.page.execute_script("window.scrollTo(0, 0)")
            time.sleep(0.2)
            self.until("the pictures", lambda: self.page.execute_script("return [...document.images].every((each) => each.complete)"))
            self.page.save_screenshot(os.path.join(self.output, f"{self.name}-{name}-{width}.png"))
            wide = self.page.execute_script("return document.documentElement.scrollWidth")
            assert wide <= width, f"{name}: {wide} px wide on a screen of {width}"
            for part in in_one_look:
                for each in self.shown(part):
                    top, bottom = self.page.execute_script("const box = arguments[0].getBoundingClientRect(); return [box.top, box.bottom];", each)
                    assert top >= 0 and bottom <= height, f"{name}: {part} lies from {top} to {bottom} on a screen of {width} x {height}"
            small = self.page.execute_script("""return [...document.querySelectorAll('button, summary, input')].filter((each) => each.checkVisibility())
                .map((each) => [each.textContent, each.getBoundingClientRect()]).filter(([, box]) => box.height < 48 || box.width < 48)
                .map(([text, box]) => `${text}: ${box.width} x ${box.height}`);""")
            assert not small, (name, small)
        self.page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": "dark"}]})
        self.until("the dark pictures", lambda: self.page.execute_script("""return [...document.querySelectorAll('picture img')]
            .every((each) => each.complete && each.currentSrc.endsWith('dark') && each.naturalWidth > 0);"""))
        self.page.save_screenshot(os.path.join(self.output, f"{self.name}-{name}-dark.png"))
        self.look_through(name)
        self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})

    def look_through(self, name):
        if self.axe is None:
            return
        self.page.execute_script("if (!window.axe) { " + self.axe + " }")
        self.page.execute_script("window.scrollTo(0, document.documentElement.scrollHeight)")
        found = self.page.execute_async_script("""const done = arguments[arguments.length - 1];
            axe.run().then((all) => done(all), (trouble) => done({ trouble: String(trouble) }));""")
        assert "violations" in found, found.get("trouble")
        self.page.execute_script("window.scrollTo(0, 0)")
        self.findings += [(name, each["impact"], each["id"], each["nodes"][0]["html"][:120]) for each in found["violations"] if each["impact"] in ("serious", "critical")]


def live(console):
    with urllib.request.urlopen(console.url + "api/live-once", timeout=20) as answer:
        return json.load(answer)
