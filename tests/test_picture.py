"""The picture of the rooms for contributors is that of the code."""

from tests.picture_of_the_house import arrows, picture, room_of, written
from tests.test_layers import LAYERS


def test_the_picture_is_that_of_the_code():
    assert written() == picture(), "run: python tests/picture_of_the_house.py --write"


def test_every_room_is_in_it_and_no_arrow_goes_both_ways():
    found = arrows()
    rooms = {room for arrow in found for room in arrow}
    folders = {room_of(name) for layer in LAYERS[3:] for name in layer}
    assert folders <= rooms
    assert not {(target, room) for room, target in found} & found
