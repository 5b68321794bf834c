"""The same whole evening in a second engine, Firefox; nothing of it goes wrong in its console."""

import pytest

from tests.page import firefox
from tests.page.test_whole_evening import WHO, InTheBrowser, terminals, whole_evening
from tests.page.visits import served

pytestmark = [
    pytest.mark.slow,
    pytest.mark.timeout(900),
    # The driver leaves its own sockets open.
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


class InFirefox(InTheBrowser):
    """The evening in Firefox, on a clock that the test moves."""

    def __init__(self, folder, thermometer):
        super().__init__(folder, thermometer, None)
        self.log = folder / "firefox.log"

    def __enter__(self):
        self.page = firefox.Firefox(self.log)
        self.room.__enter__()
        self.room.begin("evening", **WHO)
        self.serving = served(self.room)
        self.page.goes_to(self.serving.__enter__())
        self.until("#line", "connected")
        return self

    def __exit__(self, *error):
        self.page.__exit__(*error)
        self.serving.__exit__(None, None, None)
        self.room.__exit__(*error)

    def until(self, where, pattern):
        self.page.shows(where, pattern)

    def enter(self, line):
        self.page.run("document.querySelector('#answer').textContent = ''")
        self.page.types("#note", line)
        self.until("#answer", "^saved")

    def sees(self, *patterns):
        for pattern in patterns:
            self.until("[data-region=standing]", pattern)
        return self.page.text("[data-region=standing]")

    def ends(self):
        self.page.clicks("summary", "End the rehearsal")
        self.page.clicks("button", "End the rehearsal now")
        return self.page.shows("[data-region=standing]", "Next time: ")


def test_the_whole_evening_in_firefox(tmp_path):
    with (
        terminals.Thermometer(18.0) as thermometer,
        InFirefox(tmp_path, thermometer) as place,
    ):
        whole_evening(place, thermometer)
