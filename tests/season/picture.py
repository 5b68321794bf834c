"""The picture of a season: the error of each way, a bar each, by performance."""

from matplotlib.figure import Figure

NAMES = {
    "indoors": "slides as indoors", "rule": "3 cents per °C", "tuner": "tuner at zero",
    "acoustics": "sheet, from acoustics", "own": "sheet, from own rehearsals",
}  # fmt: skip
GREYS = {"indoors": "#d9d9d9", "rule": "#b0b0b0", "tuner": "#7f7f7f",
         "acoustics": "#6aa0c8", "own": "#0b4f83"}  # fmt: skip


def draw(worth, path):
    """Save bars of the mean absolute error while playing [cents]."""
    figure = Figure(figsize=(9, 3.6), layout="constrained", dpi=150)
    axes = figure.subplots()
    width = 0.8 / len(worth.columns)
    for place, way in enumerate(worth.columns):
        at = [row + (place - 2) * width for row in range(len(worth))]
        bars = axes.bar(at, worth[way], width * 0.92, label=NAMES[way], color=GREYS[way])
        if way in ("indoors", "own"):
            axes.bar_label(bars, fmt="%.0f", fontsize=8, padding=1)
    axes.set_xticks(range(len(worth)), worth.index)
    axes.set_ylabel("error while playing [cents]")
    axes.set_title("A simulated band's season outdoors: mean absolute error of pitch", loc="left")
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False, fontsize=8, ncols=5, loc="upper center",
                bbox_to_anchor=(0.5, -0.1))  # fmt: skip
    figure.savefig(path)
