import pytest

from reachmap.base.paths import OutsideError, inside, stays_inside


@pytest.mark.parametrize(
    "name",
    [
        "",
        "/etc/passwd",
        "../x",
        "a/../../x",
        "a/../b",
        "C:\\x",
        "c:x",
        "\\\\host\\share\\x",
        "a\\..\\..\\x",
        "a\0b",
    ],
)
def test_a_name_that_leads_out_is_refused(tmp_path, name):
    with pytest.raises(OutsideError, match="leads out of the folder"):
        inside(tmp_path, name)


def test_a_name_inside_is_found_with_either_separator(tmp_path):
    assert inside(tmp_path, "maps/index.html") == tmp_path / "maps" / "index.html"
    assert inside(tmp_path, "maps\\index.html") == tmp_path / "maps" / "index.html"


def test_a_link_that_leads_out_is_refused(tmp_path):
    folder = tmp_path / "reach"
    folder.mkdir()
    (folder / "photos").symlink_to(tmp_path)
    with pytest.raises(OutsideError):
        inside(folder, "photos/secret.jpg")
    assert not stays_inside(folder, folder / "photos" / "secret.jpg")


def test_a_loop_of_links_is_outside(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    assert not stays_inside(tmp_path, tmp_path / "a" / "x")


def test_a_link_within_the_folder_is_allowed(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert inside(tmp_path, "link/x") == tmp_path / "link" / "x"
