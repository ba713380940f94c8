"""The page in a real browser: typing, mending, clicking, hearing, saving, printing, by keyboard alone."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.desk.conftest import ROOT

pytestmark = pytest.mark.slow
ENGINE_PATIENCE = 20_000  # milliseconds


def type_at_end(page, text):
    page.click("#text")
    page.keyboard.press("Control+End")
    page.keyboard.type(text)


def text_of(page):
    return page.eval_on_selector("#text", "field => field.value")


def wait_settled(page):
    """Wait until the pages are those of the text."""
    page.wait_for_function("() => !document.getElementById('pages').classList.contains('old')", timeout=ENGINE_PATIENCE)


def test_a_mistake_is_told_in_place_and_mended_by_its_button(opened):
    type_at_end(opened, "\nsection  Coda\n| C | Dmin/f |")
    opened.wait_for_selector("#told li.error")
    opened.wait_for_selector("#under .wrong", state="attached")
    assert "old" in (opened.get_attribute("#pages", "class") or "")
    before = text_of(opened)
    opened.locator("#told li.error button", has_text="write").click()
    opened.wait_for_selector("#told li.error", state="detached")
    wait_settled(opened)
    assert text_of(opened) != before
    opened.focus("#text")
    opened.keyboard.press("Control+z")
    assert text_of(opened) == before


def test_the_pages_follow_and_a_click_leads_to_the_line_and_back(opened):
    type_at_end(opened, "\nsection  Coda\n| Ebm7 | D |")
    opened.wait_for_function(
        "() => [...document.querySelectorAll('#pages text')].some((t) => t.textContent === 'Coda')"
    )
    opened.locator("#pages [data-role=chord]").last.click()
    start, end = opened.eval_on_selector("#text", "field => [field.selectionStart, field.selectionEnd]")
    assert end > start
    opened.wait_for_selector("#why:not([hidden]) h2")
    opened.wait_for_selector("#pages .bracket-cursor", state="attached")


def test_why_a_hand_and_another_written_into_the_song(opened):
    place = text_of(opened).index("| G         | D/F#")
    opened.eval_on_selector(
        "#text", f"field => {{ field.focus(); field.setSelectionRange({place + 2}, {place + 2}); }}"
    )
    opened.keyboard.press("Alt+Enter")
    opened.wait_for_selector("#why:not([hidden]) li button")
    assert opened.inner_text("#why h2 >> nth=0") == "G"
    opened.locator("#why li button").nth(1).click()
    opened.wait_for_function("() => /\\| G=[A-G]/.test(document.getElementById('text').value)")
    opened.wait_for_selector("#told li.error", state="detached")


def test_letters_beyond_the_first_plane_move_no_place(opened):
    """Offsets of a browser are UTF-16 units (ECMA-262, 6.1.4), those of a song characters."""
    opened.eval_on_selector("#text", "field => { field.focus(); field.select(); }")
    opened.keyboard.insert_text("song \U0001d11e\U00010400\nkey C\n\nsection Ve\u0301rse\n| C | Hx |\n")
    opened.wait_for_selector("#told li.error button")
    opened.locator("#told li.error button").first.click()
    start, end = opened.eval_on_selector("#text", "field => [field.selectionStart, field.selectionEnd]")
    units = text_of(opened).encode("utf-16-le")
    assert units[2 * start : 2 * end].decode("utf-16-le") == "Hx"


def test_markup_in_a_song_stays_text(opened):
    opened.eval_on_selector("#text", "field => { field.focus(); field.select(); }")
    hostile = "<img src=x onerror=alert(1)><script>alert(2)</script>"
    opened.keyboard.insert_text(
        f"song {hostile}\nkey C\nwords \"'<b>&amp;]]>\n\nsection <svg onload=alert`3`>\n| C | F |\n"
    )
    opened.wait_for_function("() => document.getElementById('title').textContent.includes('script')")
    wait_settled(opened)
    assert opened.locator("#pages script, #pages img, #pages image, #title *").count() == 0
    named = "() => [...document.querySelectorAll('#pages *')].flatMap((e) => [...e.attributes].map((a) => a.name))"
    assert not [name for name in opened.evaluate(named) if name.startswith("on") or "href" in name]


def test_the_pdf_is_that_of_the_command(opened, tmp_path):
    for copy, command in (("part", "part"), ("stage", "stage")):
        opened.select_option("select[name=copy]", copy)
        with opened.expect_download() as download:
            opened.click("#pdf-button")
        song = tmp_path / "lanterns.song.txt"
        song.write_text((ROOT / "samples" / song.name).read_text(encoding="utf-8"), encoding="utf-8")
        made = tmp_path / f"{copy}.pdf"
        subprocess.run(
            [sys.executable, "-m", "arranger", command, song, "-o", made], cwd=ROOT, check=True, capture_output=True
        )
        assert Path(download.value.path()).read_bytes() == made.read_bytes()


def test_a_key_of_today_and_other_choices(opened):
    opened.select_option("select[name=key]", "E")
    opened.wait_for_function(
        "() => [...document.querySelectorAll('#pages text')].some((t) => t.textContent.startsWith('E major'))"
    )
    opened.select_option("select[name=hands]", "letters")
    opened.wait_for_function("() => document.querySelectorAll('#pages circle').length < 5")
    opened.check("input[name=easy]")
    wait_settled(opened)


def test_songs_are_found_saved_and_never_lost(opened, desk):
    opened.on("dialog", lambda dialog: dialog.accept())
    opened.click("#songs-button")
    opened.fill("#words", "ferry")
    opened.get_by_role("button", name="Night Ferry").click()
    opened.wait_for_function("() => document.getElementById('saved').textContent.includes('night ferry')")
    path = desk.folder / "night ferry.song.txt"
    first = path.read_bytes()
    type_at_end(opened, "\n# one")
    opened.keyboard.press("Control+s")
    opened.wait_for_function("() => document.getElementById('saved').textContent.startsWith('saved')")
    assert path.read_bytes().endswith(b"\n# one")
    assert path.with_name(path.name + ".before-save").read_bytes() == first
    path.write_bytes(first + b"# by somebody else\n")
    type_at_end(opened, "\n# two")
    opened.keyboard.press("Control+s")
    opened.wait_for_selector("#save-anyway:not([hidden])")
    assert "changed elsewhere" in opened.inner_text("#save-told")
    assert path.read_bytes() == first + b"# by somebody else\n"
    opened.click("#save-anyway")
    opened.wait_for_function("() => document.getElementById('saved').textContent.startsWith('saved')")
    assert path.read_bytes().endswith(b"# two")
    assert path.with_name(path.name + ".before-save").read_bytes() == first + b"# by somebody else\n"


def test_a_typed_sheet_becomes_a_song(opened):
    opened.click("#start-button")
    opened.on("dialog", lambda dialog: dialog.accept())
    opened.fill(
        "#sheet", "Small Hours\nKey: G\n\nVerse\nG          C\nThe kettle sings\nD         G\nthe window rings\n"
    )
    opened.click("#convert")
    opened.wait_for_function("() => document.getElementById('text').value.startsWith('song')")
    opened.wait_for_function("() => document.getElementById('title').textContent === 'Small Hours'")
    opened.click("#start-button")
    opened.fill("#sheet", "no chords at all")
    opened.click("#convert")
    opened.wait_for_function("() => document.getElementById('start-told').textContent.length > 10")


def test_settings_are_a_form(opened, desk):
    opened.click("#settings-button")
    opened.wait_for_selector("#settings-fields label")
    opened.select_option("select[name='hand.span']", "seventh")
    opened.click("#settings-form button[type=submit]")
    opened.wait_for_selector("#settings-dialog", state="hidden")
    (kept,) = desk.folder.parent.rglob("player.toml")
    assert 'span = "seventh"' in kept.read_text()
    opened.click("#settings-button")
    opened.wait_for_selector("#settings-fields label")
    opened.fill("input[name='hand.lowest']", "G5")
    opened.click("#settings-form button[type=submit]")
    opened.wait_for_function("() => document.getElementById('settings-told').textContent.includes('semitones')")
    opened.click("#settings-cancel")
    kept.unlink()


def test_what_is_heard_begins_where_the_notes_do(opened):
    """Peaks of what is rendered are where the performance has its notes; silence is silent."""
    found = opened.evaluate(
        """async () => {
            const heard = await desk.performance();
            const buffer = await desk.rendered(heard.notes, 8);
            const samples = buffer.getChannelData(0);
            const loud = (from, to) => {
                let most = 0;
                const [first, last] = [from, to].map((at) => Math.floor(at * buffer.sampleRate));
                for (const sample of samples.slice(first, last)) most = Math.max(most, Math.abs(sample));
                return most;
            };
            const starts = [...new Set(heard.notes.map((note) => note[2]))].filter((at) => at < 7.5);
            const silent = await desk.rendered([], 1);
            return {
                starts, whole: loud(0, 8), after: starts.map((at) => loud(at, at + 0.05)),
                first: loud(0, Math.max(0, starts[0] - 0.01)), silent: Math.max(...silent.getChannelData(0)),
                bars: heard.bars.length, seconds: heard.seconds,
            };
        }"""
    )
    assert found["starts"]
    assert found["silent"] == 0
    assert 0.02 < found["whole"] <= 1
    assert all(peak > 0.01 for peak in found["after"])
    assert found["seconds"] > 60


def test_listening_begins_and_ends(opened):
    opened.uncheck("#count-in")
    opened.click("#listen-button")
    opened.wait_for_selector("#pages .bracket-sounding", state="attached")
    assert opened.inner_text("#listen-button") == "Stop"
    opened.click("#listen-button")
    opened.wait_for_selector("#pages .bracket-sounding", state="detached")


def test_everything_is_reached_by_keyboard(opened):
    named = "(e) => e.id || e.name || e.dataset.heard"
    fields = "[...document.querySelectorAll('button, select, input, textarea')].filter((e) => e.checkVisibility())"
    wanted = opened.evaluate(f"() => {fields}.map({named})")
    opened.evaluate("() => document.activeElement.blur()")
    reached = set()
    for _ in range(2 * len(wanted) + 10):
        opened.keyboard.press("Tab")
        reached.add(opened.evaluate(f"() => ({named})(document.activeElement)"))
    assert set(wanted) <= reached


def beside(opened, width: int, height: int, **stored: str):
    """Open the same desk beside a page, without its policy: axe-core runs a script of its own in it."""
    context = opened.context.browser.new_context(bypass_csp=True, viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(opened.url)
    kept = json.loads(opened.evaluate("() => JSON.stringify({...sessionStorage})"))
    for key, value in {**kept, **stored}.items():
        page.evaluate("([key, value]) => sessionStorage.setItem(key, value)", [key, value])
    page.reload()
    return page


def serious(page) -> list[tuple[str, str]]:
    """Give what axe-core finds serious or critical: the rule, and the first element."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in ("serious", "critical")]


def test_nothing_serious_is_found_by_axe(opened):
    """axe-core's rules after WCAG 2.1, levels A and AA."""
    page = beside(opened, 1400, 900)
    page.wait_for_selector("#pages svg")
    for before in (None, "#songs-button", "#settings-button"):
        if before:
            page.click(before)
            page.wait_for_timeout(300)
        assert serious(page) == []
        if before:
            page.keyboard.press("Escape")
    page.context.close()


def test_an_ended_desk_is_told_and_the_text_stays(browser, tmp_path):
    from tests.desk.conftest import end, serve

    served = serve(tmp_path, tmp_path / "home")
    page = browser.new_page()
    page.goto(served.address)
    page.wait_for_selector("#new-song")
    page.click("#new-song")
    page.wait_for_selector("#pages svg")
    end(served)
    type_at_end(page, "# more\n")
    page.wait_for_function("() => document.getElementById('page-state').textContent.includes('has ended')")
    assert text_of(page).endswith("# more\n")
    page.close()


MEMORY = """
const answers = (path, question) => globalThis.answered(JSON.stringify([path, question])).then((text) => {
  const found = JSON.parse(text);
  return found.bytes ? Uint8Array.from(atob(found.bytes), (c) => c.charCodeAt(0)).buffer : found;
});
export class Refused extends Error {}
export const engine = { ask: (question) => answers("ask", question) };
const songs = new Map();
export const store = {
  songs: async () => ({ songs: [...songs.keys()].map((name) => ({ name, title: name })), total: songs.size, told: [] }),
  read: async (name) => songs.get(name),
  async save(name, text, version) {
    const now = songs.get(name)?.version ?? "";
    if (now !== version) return { conflict: now };
    songs.set(name, { text, version: `${now}1` });
    return { version: `${now}1` };
  },
  keepSettings: async () => ({ problems: [] }),
  font: (family) => answers("font", { family }),
  here: async () => ({}),
};
"""


def test_the_page_works_with_another_engine_and_store(browser, desk):
    """In memory, by another `connection.js`: the page knows its engine and its store by that file alone."""
    import base64

    from arranger.desk.answers import answer
    from arranger.resources import font_bytes, font_path

    def answered(text):
        path, question = json.loads(text)
        font = font_path(f"{question['family']}.ttf") if path == "font" else None
        found = answer(question) if font is None else font_bytes(str(font))
        return json.dumps({"bytes": base64.b64encode(found).decode()} if isinstance(found, bytes) else found)

    context = browser.new_context(accept_downloads=True)
    page = context.new_page()
    page.expose_function("answered", answered)
    page.route("**/page/connection.js", lambda route: route.fulfill(body=MEMORY, content_type="text/javascript"))
    page.route(lambda address: not address.startswith(f"http://127.0.0.1:{desk.port}/"), lambda route: route.abort())
    posted = []
    page.on("request", lambda request: posted.append(request.url) if request.method == "POST" else None)
    page.goto(f"http://127.0.0.1:{desk.port}/")
    page.click("#new-song")
    page.wait_for_selector("#pages svg")
    page.keyboard.press("Control+s")
    page.click("#save-form button[type=submit]")
    page.wait_for_function("() => document.getElementById('saved').textContent === 'saved: new song.song.txt'")
    before = text_of(page)
    type_at_end(page, "| Hx |")
    page.wait_for_selector("#told li.error")
    page.click("#text")
    while text_of(page) != before:  # how much of what was typed one step takes back depends on how fast it was typed
        page.keyboard.press("Control+z")
    with page.expect_download():
        page.click("#midi-button")
    assert posted == []
    context.close()
