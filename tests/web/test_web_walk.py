"""Every link of every page leads to a page."""

import html
import re

from web_cases import SLUG


def walk(client, first, base):
    """Follow every link under an address; return the status of each page by its path."""
    seen, waiting = {}, [first]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        answer = client.get(path)
        seen[path] = answer.status_code
        for found in re.findall(r'href="(/[^"#]*)', answer.text):
            target = html.unescape(found)
            assert target.startswith(base), (path, target)
            waiting.append(target)
        assert len(answer.content) <= 60_000, path
    return seen


def test_whoever_manages_finds_every_page_by_its_links(web):
    seen = walk(web.visitor("manage"), f"/{SLUG}/now", f"/{SLUG}/")
    assert set(seen.values()) == {200}
    kinds = {re.sub(r"\?.*", "", path).split("/")[2] for path in seen}
    assert kinds >= {
        "now",
        "season",
        "beds",
        "bed",
        "batch",
        "task",
        "slip",
        "links",
        "log",
        "log.csv",
        "sheet",
    }


def test_whoever_may_look_is_led_to_nothing_that_is_closed(web):
    seen = walk(web.visitor("look"), f"/{SLUG}/now", f"/{SLUG}/")
    assert set(seen.values()) == {200}
    assert not {path for path in seen if "/slip" in path or "/links" in path}


def test_a_link_out_of_a_nudge_leads_nowhere_else(web):
    task = web.first("apply")
    nudge = next(one for one in web.journal.nudges_in("waiting") if one.task == task.id)
    path = f"/go/{web.link('task', 'apply', person='Cian', task=task.id, nudge=nudge.key)}"
    assert set(walk(web.client(), path, path).values()) == {200}
