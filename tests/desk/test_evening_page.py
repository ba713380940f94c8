"""A running order in a real browser: put together by mouse and by keyboard alone, its pages, its PDF, its study."""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.desk.conftest import ROOT
from tests.desk.test_page import ENGINE_PATIENCE, MEMORY, beside, serious, text_of

pytestmark = pytest.mark.slow
THREE = """set       Harvest Supper
date      29 November

song      lanterns.song.txt
key       E
then      talk 45 s

song      first snow.song.txt
then      pad

song      rosalie.song.txt
"""


def begin(page):
    """Begin a running order."""
    page.on("dialog", lambda dialog: dialog.accept())
    page.click("#start-button")
    page.click("#start-order")
    page.wait_for_selector("#order-found li")


def wait_for_pages(page, songs):
    """Wait until the pages of all songs, and before them the order's own, are shown."""
    page.wait_for_function(
        f"""() => document.getElementById('page-state').textContent === ''
            && !document.getElementById('pages').classList.contains('old')
            && document.querySelectorAll('#pages svg:first-child text').length > {3 * songs}""",
        timeout=3 * ENGINE_PATIENCE,
    )


def row(page, number):
    return page.locator("#order-list > li").nth(number)


def downloaded(page, button):
    with page.expect_download(timeout=3 * ENGINE_PATIENCE) as download:
        page.click(button)
    return download.value.suggested_filename, Path(download.value.path()).read_bytes()


def test_put_together_by_mouse_saved_and_printed_as_the_command_does(opened, desk, tmp_path):
    begin(opened)
    opened.fill("#order-set", "Harvest Supper")
    opened.fill("#order-date", "29 November")
    titles = "First Snow on the Slip", "Lanterns on the Harbour", "The Tide Clock", "La lampe de Rosalie"
    for words, title in zip(("snow", "harb", "", ""), titles, strict=True):
        opened.fill("#order-words", words)
        opened.get_by_role("button", name=f"add {title}", exact=True).click()
    opened.get_by_role("button", name="Lanterns on the Harbour up").click()
    opened.get_by_role("button", name="take The Tide Clock out").click()
    row(opened, 0).get_by_label("key of").select_option("E")
    row(opened, 0).get_by_label("then, after").select_option("talk")
    row(opened, 0).get_by_label("seconds of talk").fill("45")
    row(opened, 1).get_by_label("then, after").select_option("pad")
    opened.wait_for_function("text => document.getElementById('text').value === text", arg=THREE)
    wait_for_pages(opened, 3)
    shown = opened.inner_text("#pages")
    assert all(words in shown for words in ("Harvest Supper", "E major", "then talk 45 s", "La lampe de Rosalie"))
    assert opened.locator("#midi-button").is_hidden()
    opened.keyboard.press("Control+s")
    opened.click("#save-form button[type=submit]")
    opened.wait_for_function("() => document.getElementById('saved').textContent === 'saved: harvest supper.set.txt'")
    kept = desk.folder / "harvest supper.set.txt"
    assert kept.read_text(encoding="utf-8") == THREE
    made = tmp_path / "book.pdf"
    command = [sys.executable, "-m", "arranger"]
    subprocess.run([*command, "evening", kept, "-o", made], cwd=ROOT, check=True, capture_output=True)
    name, data = downloaded(opened, "#pdf-button")
    assert name == "harvest supper.evening.pdf"
    assert data == made.read_bytes()
    opened.select_option("select[name=copy]", "study")
    opened.fill("input[name=minutes]", "20")
    opened.wait_for_function("() => document.getElementById('pages').innerText.includes('Studies: Harvest Supper')")
    subprocess.run(
        [*command, "study", kept, "-o", made, "--force", "--minutes", "20", "--also", "midi"],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    assert downloaded(opened, "#pdf-button") == ("harvest supper.study.pdf", made.read_bytes())
    assert downloaded(opened, "#midi-button") == ("harvest supper.study.mid", made.with_suffix(".mid").read_bytes())
    opened.select_option("select[name=copy]", "part")
    opened.wait_for_function("() => document.getElementById('pages').innerText.includes('then talk 45 s')")
    opened.locator("#pages svg").last.click()
    assert "here" in row(opened, 2).get_attribute("class")
    row(opened, 0).get_by_label("open Lanterns").click()
    opened.wait_for_function("() => document.getElementById('saved').textContent === 'saved: lanterns.song.txt'")
    opened.click("#songs-button")
    opened.locator("#orders-list button", has_text="Harvest Supper").click()
    opened.wait_for_function("text => document.getElementById('text').value === text", arg=THREE)
    kept.unlink()


def test_songs_are_still_found_where_an_order_is_saved_in_a_folder(opened, desk):
    begin(opened)
    opened.get_by_role("button", name="add Lanterns on the Harbour", exact=True).click()
    opened.locator("#text").press_sequentially("\nsong ../elsewhere.song.txt\n")
    (desk.folder / "spring").mkdir()
    opened.keyboard.press("Control+s")
    opened.fill("#save-name", "spring/harvest supper")
    opened.click("#save-form button[type=submit]")
    opened.wait_for_function("() => document.getElementById('saved').textContent.startsWith('saved: spring/')")
    kept = (desk.folder / "spring" / "harvest supper.set.txt").read_text(encoding="utf-8")
    assert opened.input_value("#text") == kept
    assert "../lanterns.song.txt\n" in kept and "song ../elsewhere.song.txt\n" in kept
    opened.wait_for_function("() => document.getElementById('order-list').innerText.includes('Lanterns')")
    opened.locator("#order-list button", has_text="Lanterns").first.click()
    opened.wait_for_function("() => document.getElementById('saved').textContent === 'saved: lanterns.song.txt'")
    shutil.rmtree(desk.folder / "spring")


def press_until(page, found, key="Tab", most=250):
    """Press a key until what has the focus is wanted."""
    for _ in range(most):
        if page.evaluate(f"(e => {found})(document.activeElement)"):
            return
        page.keyboard.press(key)
    raise AssertionError(found)


def labelled(label):
    return f"e.getAttribute('aria-label') === {json.dumps(label)} && !e.disabled"


def test_put_together_by_keyboard_alone(opened):
    opened.on("dialog", lambda dialog: dialog.accept())
    opened.evaluate("() => document.activeElement.blur()")
    press_until(opened, "e.id === 'start-button'")
    opened.keyboard.press("Enter")
    press_until(opened, "e.id === 'start-order'")
    opened.keyboard.press("Enter")
    opened.wait_for_selector("#order-found li")
    assert opened.evaluate("document.activeElement.id") == "order-set"
    opened.keyboard.press("Control+a")
    opened.keyboard.type("Keys")
    for title in ("Bread and Salt", "Night Ferry", "Slow Boats"):
        press_until(opened, labelled(f"add {title}"))
        opened.keyboard.press("Enter")
    press_until(opened, labelled("Slow Boats up"))
    opened.keyboard.press("Enter")
    assert opened.evaluate(f"(e => {labelled('Slow Boats up')})(document.activeElement)")
    assert opened.inner_text("#order-told") == "Slow Boats is now 2 of 3"
    opened.keyboard.press("Space")  # now the first: it can only go down
    assert opened.evaluate("document.activeElement.dataset.control") == "down"
    press_until(opened, labelled("take Night Ferry out"))
    opened.keyboard.press("Enter")
    press_until(opened, labelled("then, after Slow Boats"), "Shift+Tab")
    opened.keyboard.type("attacca")
    press_until(opened, "e.id === 'order-break'", "Shift+Tab")
    opened.keyboard.press("Enter")
    opened.keyboard.press("Control+a")
    opened.keyboard.type("soup")
    opened.keyboard.press("Enter")
    wanted = (
        "set       Keys\n\nsong      slow boats.song.txt\nthen      attacca\n\nsong      bread and salt.song.txt\n\n"
        "break     soup\n"
    )
    opened.wait_for_function("text => document.getElementById('text').value === text", arg=wanted)
    wait_for_pages(opened, 2)
    opened.focus("#text")
    opened.keyboard.press("Control+z")
    assert text_of(opened).endswith("break     break\n")


def test_mistakes_stand_in_the_rows_and_under_the_text(opened, desk):
    begin(opened)
    opened.fill("#text", THREE.replace("rosalie", "rosali").replace("key       E", "key       Em"))
    opened.wait_for_selector("#order-list small.error")
    assert "there is no file rosali.song.txt" in row(opened, 2).inner_text()
    assert opened.locator("#told li.error").count() == 2
    assert opened.locator("#under .wrong").count() >= 2
    opened.locator("#told li.error button", has_text="line 5").click()
    start, end = opened.eval_on_selector("#text", "field => [field.selectionStart, field.selectionEnd]")
    assert text_of(opened)[start:end] == "Em"
    wrong = desk.folder / "wrong.song.txt"
    wrong.write_text("song W\nkey C\n\nsection V\n| C | Hx |\n")
    opened.fill("#text", "set X\nsong wrong.song.txt\n")
    opened.get_by_role("button", name="open the song").first.click()
    opened.wait_for_function("() => document.getElementById('saved').textContent === 'saved: wrong.song.txt'")
    wrong.unlink()


def test_a_text_changed_elsewhere_is_not_written_over(opened, desk):
    kept = desk.folder / "late.set.txt"
    kept.write_text(THREE, encoding="utf-8")
    opened.on("dialog", lambda dialog: dialog.accept())
    opened.click("#songs-button")
    opened.fill("#words", "late set")
    opened.wait_for_function("() => document.querySelectorAll('#orders-list button').length === 1")
    opened.get_by_role("button", name="Harvest Supper").click()
    opened.wait_for_selector("#order-list > li")
    kept.write_text(THREE + "# by somebody else\n", encoding="utf-8")
    row(opened, 2).get_by_label(re.compile(" up$")).click()
    opened.keyboard.press("Control+s")
    opened.wait_for_selector("#save-anyway:not([hidden])")
    assert kept.read_text(encoding="utf-8") == THREE + "# by somebody else\n"
    opened.click("#save-anyway")
    opened.wait_for_function("() => document.getElementById('saved').textContent === 'saved: late.set.txt'")
    assert kept.with_name("late.set.txt.before-save").read_text(encoding="utf-8").endswith("# by somebody else\n")
    for path in desk.folder.glob("late.set.txt*"):
        path.unlink()


def test_a_change_by_hand_leaves_all_else_as_it_was_typed(opened):
    """Every move is taken back by its opposite; remarks go with their song."""
    text = (ROOT / "samples" / "harvest supper.set.txt").read_text(encoding="utf-8")
    found = opened.evaluate(
        """async (text) => {
            const order = await import(new URL("page/order_text.js", document.baseURI));
            const items = order.itemsOf(text);
            const wrong = [];
            const sorted = (text) => text.split("\\n").sort().join();
            for (let at = 0; at < items.length; at += 1) {
                for (let to = 0; to < items.length; to += 1) {
                    const there = order.moved(text, at, to - at);
                    const names = order.itemsOf(there).map((one) => one.value);
                    const wanted = items.map((one) => one.value);
                    wanted.splice(to, 0, ...wanted.splice(at, 1));
                    if (names.join() !== wanted.join()) wrong.push(["order", at, to]);
                    if (sorted(there) !== sorted(text)) wrong.push(["lines", at, to]);
                    if (order.moved(there, to, at - to) !== text) wrong.push(["back", at, to]);
                }
                const key = order.withKey(text, at, "F");
                if (order.itemsOf(key)[at].key !== "F") wrong.push(["key", at]);
                for (const way of ["attacca", "pad", "stop", "talk"]) {
                    const then = order.itemsOf(order.withThen(text, at, way, 7))[at];
                    if (then.then !== way || (way === "talk" && then.seconds !== 7)) wrong.push(["then", at, way]);
                }
            }
            const more = order.withSong(text, "x.song.txt");
            if (order.without(more, items.length) !== text) wrong.push(["added"]);
            const hostile = order.withBreak(text, "a\\nsong /etc/passwd\\n");
            const last = order.itemsOf(hostile).at(-1);
            const chairs = order.moved(text, 8, -2).split("\\n");
            return {
                wrong, last: [last.kind, last.value], head: order.headOf(text),
                remark: chairs[chairs.indexOf("song      slow boats.song.txt") - 1],
                renamed: order.headOf(order.withHead(order.withHead(text, "set", "A\\nB"), "place", "")),
                key: order.itemsOf(order.withKey(order.withKey(text, 1, "F"), 1, ""))[1].key,
            };
        }""",
        text,
    )
    assert found["wrong"] == []
    assert found["last"] == ["break", "a song /etc/passwd"]
    assert found["remark"].startswith("# Half of it")
    assert found["head"] == {"set": "Harvest Supper", "date": "29 November", "place": "the net loft, Pellow Quay"}
    assert found["renamed"] == {"set": "A B", "date": "29 November", "place": ""}
    assert found["key"] == ""


def test_hostile_titles_stay_text(opened, desk):
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    song = desk.folder / "h&<b>.song.txt"
    song.write_text(f"song {hostile}\nkey C\n\nsection V\n| C | F |\n")
    begin(opened)
    opened.fill(
        "#text", f"set {hostile}\nplace {hostile}\n\nsong h&<b>.song.txt\n\nbreak {hostile}\n\nsong {hostile}\n"
    )
    opened.wait_for_function("() => document.getElementById('title').textContent.includes('script')")
    opened.wait_for_selector("#order-list small.error")
    for place in ("#order", "#told", "#pages", "#title"):
        assert opened.locator(f"{place} script, {place} img, {place} b").count() == 0
    assert hostile in row(opened, 0).inner_text()
    song.unlink()


def test_rows_are_large_enough_for_a_finger_and_axe_finds_nothing_serious(opened):
    """44 pixels: WCAG 2.2, 2.5.5; axe-core's rules for levels A and AA."""
    page = beside(opened, 800, 1100, **{"desk draft": "{}"})
    page.wait_for_selector("#start-order")
    page.click("#start-order")
    page.wait_for_selector("#order-found li")
    page.fill("#text", THREE.replace("rosalie", "rosali"))
    page.wait_for_selector("#order-list small.error")
    sizes = page.eval_on_selector_all(
        "#order-list button, #order-list select, #order-list input, #order-found button",
        "all => all.filter((e) => e.checkVisibility()).map((e) => [e.offsetWidth, e.offsetHeight])",
    )
    assert len(sizes) > 15
    assert all(min(size) >= 44 for size in sizes)
    assert serious(page) == []
    page.context.close()


def test_an_evening_with_another_engine_and_store(browser, desk):
    """In memory: the songs that a running order names come from that store alone."""
    import base64

    from arranger.desk.answers import answer
    from arranger.resources import font_bytes, font_path

    songs = {path.name: path.read_text(encoding="utf-8") for path in (ROOT / "samples").glob("*.song.txt")}

    def answered(text):
        path, question = json.loads(text)
        if path == "font":
            found = font_bytes(str(font_path(f"{question['family']}.ttf")))
        else:
            if question["ask"] in ("order", "evening", "book", "practise"):
                question["songs"] = [[name, songs.get(name), "", ""] for name in songs]
            found = answer(question)
        return json.dumps({"bytes": base64.b64encode(found).decode()} if isinstance(found, bytes) else found)

    context = browser.new_context(accept_downloads=True)
    page = context.new_page()
    page.expose_function("answered", answered)
    page.route("**/page/connection.js", lambda route: route.fulfill(body=MEMORY, content_type="text/javascript"))
    posted = []
    page.on("request", lambda request: posted.append(request.url) if request.method == "POST" else None)
    page.goto(f"http://127.0.0.1:{desk.port}/")
    page.click("#start-order")
    page.fill("#text", THREE)
    wait_for_pages(page, 3)
    question = {
        "ask": "book",
        "text": THREE,
        "name": "evening.set.txt",
        "songs": [[n, t, "", ""] for n, t in songs.items()],
    }
    assert downloaded(page, "#pdf-button") == ("Harvest Supper.evening.pdf", answer(question))
    assert posted == []
    context.close()
