import os

import pytest

from layout3d.errors import LayoutError
from layout3d.view.document import Document


@pytest.fixture
def document(tmp_path):
    file = tmp_path / "a.yaml"
    file.write_text("format: 1\nwaterline: 50\n")
    return Document(file)


def by_others(document, text):
    """Write as an editor does: a new file in the place of the old one."""
    other = document.path.with_suffix(".new")
    other.write_text(text)
    other.replace(document.path)


def looked(document):
    """Look at the file as often as it takes until two looks find it the same, as the window does."""
    return document.look() or document.look()


def test_steps_are_taken_back_and_again_without_end(document):
    texts = [document.text]
    for number in range(200):
        document.take(f"format: 1\nwaterline: {number}\n")
        texts.append(document.text)
    for text in reversed(texts[:-1]):
        assert document.undo()
        assert document.text == text
    assert not document.undo()
    assert not document.changed
    for text in texts[1:]:
        assert document.redo()
        assert document.text == text
    assert not document.redo()


def test_a_new_step_ends_what_could_be_taken_again(document):
    document.take("one\n")
    document.undo()
    document.take("two\n")
    assert not document.redo()
    assert document.text == "two\n"


def test_the_difference_is_what_saving_changes(document):
    assert document.difference() == ""
    document.take("format: 1\nwaterline: 60\n")
    lines = document.difference().splitlines()
    assert [line for line in lines if line[0] in "+-" and line[:3] not in ("+++", "---")] == [
        "-waterline: 50",
        "+waterline: 60",
    ]
    document.save()
    assert document.path.read_text() == "format: 1\nwaterline: 60\n"
    assert document.difference() == ""


def test_what_others_wrote_is_taken_where_nothing_is_unsaved(document):
    assert not looked(document)
    by_others(document, "format: 1\nwaterline: 70\n")
    assert looked(document)
    assert (document.text, document.changed, document.news) == ("format: 1\nwaterline: 70\n", False, None)
    assert not looked(document)
    assert document.undo()
    assert document.text == "format: 1\nwaterline: 50\n"


def test_what_others_wrote_waits_and_is_never_overwritten_unasked(document):
    document.take("mine\n")
    by_others(document, "theirs\n")
    with pytest.raises(LayoutError, match="changed on disk"):
        document.save()  # before it was looked at, too
    assert looked(document)
    assert (document.text, document.news) == ("mine\n", "theirs\n")
    with pytest.raises(LayoutError, match="changed on disk"):
        document.save()
    assert document.path.read_text() == "theirs\n"
    document.take_news()
    assert (document.text, document.changed) == ("theirs\n", False)
    document.undo()
    assert document.text == "mine\n"
    document.save()
    assert document.path.read_text() == "mine\n"


def test_writing_over_what_others_wrote_takes_a_word(document):
    document.take("mine\n")
    by_others(document, "theirs\n")
    document.save(over=True)
    assert document.path.read_text() == "mine\n"
    assert not looked(document)


def test_a_file_that_can_not_be_read_is_told_and_looked_at_again(document):
    document.path.write_bytes(b"\xff\xfe\x00")
    assert looked(document)
    assert "UTF-8" in document.trouble
    assert document.text == "format: 1\nwaterline: 50\n"
    by_others(document, "format: 1\nwaterline: 80\n")
    assert looked(document)
    assert (document.trouble, document.text) == ("", "format: 1\nwaterline: 80\n")


def test_a_file_that_is_gone_and_comes_back_as_it_was_is_news(document):
    text = document.text
    document.path.unlink()
    assert looked(document)
    assert "no such file" in document.trouble
    with pytest.raises(LayoutError, match="not there any more"):
        document.save()
    by_others(document, text)
    assert looked(document)
    assert document.trouble == ""
    assert not looked(document)
    document.path.unlink()
    assert looked(document)
    document.take(text + "# mine\n")
    document.save(over=True)
    assert (document.trouble, document.path.read_text()) == ("", text + "# mine\n")


def test_half_a_file_is_no_step(document):
    before = document.text
    document.path.write_text("")
    assert not document.look()
    document.path.write_text("format: 1\nwaterline: 90\n")
    assert not document.look()
    assert document.look()
    document.undo()
    assert document.text == before


def test_a_file_that_was_put_in_its_place_whole_is_taken_at_the_first_look(document):
    other = document.path.with_suffix(".new")
    other.write_text("format: 1\nwaterline: 90\n")
    os.utime(other, ns=(10**18, 10**18))  # written some time before it gets its name
    other.replace(document.path)
    assert document.look()
    assert document.text == other.with_suffix(".yaml").read_text()
    assert not document.look()


def test_a_new_file_that_is_still_being_written_is_not_taken_at_the_first_look(document):
    document.path.unlink()
    with document.path.open("w") as file:
        document.path.chmod(0o600)
        assert not document.look()  # nothing is in it yet
        file.write("format: 1\n")
        file.flush()
        assert not document.look()
        file.write("waterline: 90\n")
    assert not document.look()
    assert document.look()
    assert document.text == "format: 1\nwaterline: 90\n"


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("line_end", [b"\r\n", b"\n"])
def test_a_file_is_written_with_the_line_ends_and_the_mark_that_it_has(document, mark, line_end):
    document.path.write_bytes(mark + b"format: 1\nwaterline: 50".replace(b"\n", line_end))
    looked(document)
    document.take(document.text + "\ntitle: a tank\n")
    assert "\r" not in document.difference()
    document.save()
    assert document.path.read_bytes() == mark + line_end.join(
        [b"format: 1", b"waterline: 50", b"title: a tank", b""]
    )
    assert not document.overtaken()


def test_a_file_with_line_ends_of_both_kinds_keeps_them(document):
    document.path.write_bytes(b"format: 1\r\nwaterline: 50\n")
    looked(document)
    document.take(document.text + "# mine\n")
    document.save()
    assert document.path.read_bytes() == b"format: 1\r\nwaterline: 50\n# mine\n"
