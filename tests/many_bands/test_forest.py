"""The forest plot: every band is in it, and none of its intervals runs out of the picture."""

from drift.bands.new_priors import Own
from drift.charts.forest import forest

OWN = (
    Own("aaaa0000", 6.0, 3.0, 9.0, 1.2),
    Own("bbbb0000", 9.5, 8.0, 11.0, 0.9),
    Own("cccc0000", 30.0, -400.0, 460.0, 0.2),
)
MEAN, NEW = (8.5, 7.5, 9.5), (8.5, 5.0, 12.0)


def test_a_row_a_band_and_the_new_band_last():
    ax = forest(OWN, MEAN, NEW, "rise (cents)")
    names = [text.get_text() for text in ax.get_yticklabels()]
    assert names == ["new band", "mean of all", "band cccc", "band bbbb", "band aaaa"]
    assert ax.get_xlabel() == "rise (cents), 95 % intervals"
    weights = [text.get_text() for text in ax.texts]
    assert weights[:4] == ["1.2", "0.9", "0.2", "weight"]
    assert weights[4].startswith("weight: 1 or more")
    assert ax.get_title("left")


def test_an_interval_that_goes_on_beyond_the_edge_has_an_arrow_there():
    ax = forest(OWN, MEAN, NEW, "rise (cents)")
    low, high = ax.get_xlim()
    arrows = [(line.get_marker(), line.get_xdata()[0]) for line in ax.lines]
    assert [one for one in arrows if one[0] in ("<", ">")] == [("<", low), (">", high)]


def test_a_band_that_says_next_to_nothing_does_not_set_the_scale():
    low, high = forest(OWN, MEAN, NEW, "rise (cents)").get_xlim()
    assert low < 3.0 < NEW[2] < high
    assert high < 40.0
    for line in forest(OWN, MEAN, NEW, "rise (cents)").lines:
        xs = [x for x in line.get_xdata() if x not in (0, 1)]
        assert all(low <= x <= high for x in xs)


def test_a_mean_beside_all_bands_says_why_it_is_there():
    ax = forest(OWN, (5.5, 4.0, 7.0), NEW, "rise (cents)")
    assert "the mean lies beside all bands, for it begins at the catalogue" in ax.get_xlabel()
    assert "beside" not in forest(OWN, MEAN, NEW, "rise (cents)").get_xlabel()
