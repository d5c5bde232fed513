"""The drawing of the rooms shows the code as it stands."""

from tests.tools.draw_rooms import PICTURE, picture, read_room, room_names


def test_the_drawing_is_in_step():
    assert PICTURE.read_text(encoding="utf-8") == picture(), "run: python -m tests.tools.draw_rooms"


def test_no_room_imports_against_the_flow():
    names = room_names()
    for place, name in enumerate(names):
        assert read_room(name, names).imports <= {*names[:place]}
