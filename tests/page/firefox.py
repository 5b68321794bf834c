"""A second engine: Debian's Firefox, by the protocol of its own makers (``marionette_driver``)."""

import re
import shutil
import time

import pytest

PATH = shutil.which("firefox-esr") or shutil.which("firefox")


class Firefox:
    """A headless Firefox with one page, which writes what it says of itself into a file."""

    def __init__(self, log, width=768, height=1024):
        driver = pytest.importorskip("marionette_driver.marionette")
        if PATH is None:
            pytest.skip("no Firefox on this machine: install Debian's firefox-esr")
        self.engine = driver.Marionette(
            bin=PATH, headless=True, startup_timeout=180, gecko_log=str(log)
        )
        self.engine.start_session()
        self.engine.set_window_rect(width=width, height=height)

    def __enter__(self):
        return self

    def __exit__(self, *error):
        self.engine.delete_session()
        self.engine.cleanup()

    @property
    def version(self):
        return self.engine.session_capabilities["browserVersion"]

    def goes_to(self, address):
        self.engine.navigate(address)

    def run(self, script, *values):
        return self.engine.execute_script(script, values)

    def text(self, where):
        return self.run("return document.querySelector(arguments[0])?.innerText ?? ''", where)

    def shows(self, where, pattern, seconds=60.0):
        """Wait until an element shows a pattern; returns its text."""
        end = time.monotonic() + seconds
        while not re.search(pattern, text := self.text(where)):
            assert time.monotonic() < end, f"{where} never showed {pattern!r}: {text!r}"
            time.sleep(0.1)
        return text

    def element(self, where):
        return self.engine.find_element("css selector", where)

    def types(self, where, text):
        """Type a line into a field, with the key that enters it."""
        field = self.element(where)
        field.clear()
        field.send_keys(text + "\ue007")  # WebDriver's code of the Enter key

    def clicks(self, where, text):
        """Click what bears exactly a text."""
        for one in self.engine.find_elements("css selector", where):
            if one.text == text:
                one.click()
                return
        raise AssertionError(f"no {where} says {text!r}")

    def picture(self, file):
        file.write_bytes(self.engine.screenshot(format="binary", full=False))
