"""What is done to the shop, one scene after the other, and what must hold after each."""

import os
import random
import signal
import statistics
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

from django.db import connection

from reports.documents.services import document_get_or_render
from reports.models import Document
from tests.faults.machines import children, wait_until
from tests.faults.shop import Shop

# Where a worker kills itself, and how many second mails that may cost.
STEPS = {
    "before-rendering": 0,
    "after-file": 0,
    "before-claim": 0,
    "after-claim": 0,
    "before-data": 0,
    "mid-data": 0,
    "after-250": 1,
    "before-mark": 1,
    "after-mark": 0,
}
Numbers = dict[str, Any]


def play(shop: Shop, *, quick: bool, moments: int, tell: bool, only: str = "") -> Numbers:
    """All scenes; `holds` says whether nothing was lost and nothing arrived twice outside the window."""
    report: Numbers = {"scenes": {}}

    def scene(name: str, run: Callable[[], Numbers]) -> None:
        if only and not any(part in name for part in only.split(",")):
            return
        shop.clear()
        began = time.monotonic()
        try:
            numbers = run()
        except TimeoutError as error:
            shop.say_all()
            numbers = {"may_be_twice": 0, **shop.verdict(), "stuck": str(error)}
            shop.worker.kill()
            shop.forking.kill()
        numbers["seconds"] = round(time.monotonic() - began, 1)
        numbers["holds"] = "stuck" not in numbers and not (
            numbers["lost"] or numbers["unmarked"] or numbers["unexplained"]
        )
        numbers["holds"] &= numbers["twice"] <= numbers["may_be_twice"]
        report["scenes"][name] = numbers
        if tell:
            print(f"{name:24}", "  ".join(f"{key}: {value}" for key, value in numbers.items()), flush=True)

    for step, twice in STEPS.items():
        scene(step, lambda step=step, twice=twice: killed_at(shop, step, twice))  # type: ignore[misc]
    if not quick:
        scene("undisturbed", lambda: undisturbed(shop, 100))
        scene("redis lost whole", lambda: redis_lost(shop))
        scene("mail server stopped", lambda: mail_stopped(shop))
        scene("database restarted", lambda: database_restarted(shop))
        scene("disk full", lambda: disk_full(shop))
        scene(f"{moments} random moments", lambda: random_moments(shop, moments))
    report["holds"] = all(numbers["holds"] for numbers in report["scenes"].values())
    return report


def killed_at(shop: Shop, step: str, twice: int) -> Numbers:
    """The whole worker dies once at this step, with a plan's mail in hand; another takes its place."""
    shop.issue()
    shop.worker.start(FAULT_STEP=step)
    wait_until(lambda: shop.worker.is_over, f"the worker's end at {step}")
    shop.worker.start()
    shop.wait_until_sent()
    shop.worker.kill()
    verdict = shop.verdict()
    return {**verdict, "kills": 1, "may_be_twice": twice}


def undisturbed(shop: Shop, count: int) -> Numbers:
    """Nothing dies: how long is the time in which a death costs a second mail?"""
    plan = shop.issue()
    document_get_or_render(plan)
    shop.write(count, plan=plan)
    shop.worker.start()
    shop.wait_until_sent()
    wait_until(lambda: len([s for s in shop.steps() if s.step == "after-mark"]) > count, "the last mark")
    shop.worker.kill()
    return {**shop.verdict(), "kills": 0, "may_be_twice": 0, "window_ms": windows(shop)}


def windows(shop: Shop) -> Numbers:
    """From the server's acceptance (and from the worker's reading of the 250) to the mark, in ms."""
    arrived, steps = shop.arrivals(), shop.steps()
    read = {step.message_id: step.at_ns for step in steps if step.step == "after-250"}
    marked = {step.message_id: step.at_ns for step in steps if step.step == "after-mark"}
    whole = [(at - arrived[name][-1]) / 1e6 for name, at in marked.items()]
    ours = [(at - read[name]) / 1e6 for name, at in marked.items()]
    return {"from acceptance": spread(whole), "from reading 250": spread(ours)}


def spread(values: list[float]) -> Numbers:
    cuts = statistics.quantiles(values, n=20)
    return {"median": round(cuts[9], 2), "95 %": round(cuts[18], 2), "most": round(max(values), 2)}


def redis_lost(shop: Shop) -> Numbers:
    """Redis dies with all it held while messages are written, and comes back empty."""
    shop.worker.start()
    first = shop.write(10)
    shop.redis.stop(signal.SIGKILL)
    second = shop.write(20)
    time.sleep(1)
    shop.redis.start()
    shop.wait_until_sent()
    shop.worker.kill()
    return {
        **shop.verdict(),
        "kills": 1,
        "may_be_twice": 0,
        "written_without_redis": len(second) * bool(first),
    }


def mail_stopped(shop: Shop) -> Numbers:
    """The mail server is killed in the middle, and is away for some seconds."""
    shop.worker.start()
    shop.write(60)
    wait_until(lambda: shop.unsent() < 55, "the first mails")
    shop.mail.kill()
    shop.write(10)
    time.sleep(3)
    shop.start_mail()
    shop.wait_until_sent()
    shop.worker.kill()
    return {**shop.verdict(), "kills": 1, "may_be_twice": 1}  # killed between writing a mail and saying 250


def database_restarted(shop: Shop) -> Numbers:
    """The database is shut down and started again in the middle; connections are cut."""
    shop.worker.start()
    shop.write(80)
    wait_until(lambda: shop.unsent() < 70, "the first mails")
    shop.postgres.stop(signal.SIGINT)
    time.sleep(1)
    shop.postgres.start()
    connection.close()
    shop.wait_until_sent()
    shop.worker.kill()
    return {**shop.verdict(), "kills": 1, "may_be_twice": 1}  # cut between the 250 and the mark


def disk_full(shop: Shop) -> Numbers:
    """Files cannot grow: the document is not made and says why; with room again it is, and its mail goes."""
    plan = shop.issue()
    shop.worker.start(most_bytes=4096)
    document = Document.objects.get(plan=plan)

    def refused() -> bool:
        document.refresh_from_db()
        return document.tries > 0 and bool(document.last_error)

    wait_until(refused, "a try without room")
    shop.worker.kill()
    folder = shop.folder / "data" / "private" / "documents"
    cut = sum(1 for path in folder.glob("*") if 0 < path.stat().st_size <= 4096) if folder.exists() else 0
    shop.worker.start()
    shop.wait_until_sent()
    shop.worker.kill()
    numbers = {"kills": 1, "may_be_twice": 0, "half_files": cut, "said": document.last_error}
    return {**shop.verdict(), **numbers}


def died_at(shop: Shop) -> Numbers:
    """After which step each process died: the last one it wrote down."""
    last = {step.pid: step.step for step in shop.steps()}
    return dict(Counter(last.values()))


def wait_for_step(shop: Shop, name: str) -> None:
    """Wait until this step is passed once more, for half a minute at most."""
    passed, end = shop.passed(name), time.monotonic() + 30
    while shop.passed(name) == passed and time.monotonic() < end:
        time.sleep(0.005)


def random_moments(shop: Shop, moments: int) -> Numbers:
    """The process that sends is killed again and again, in the middle of work, at moments chosen by chance.

    Every tenth time the whole worker is killed and started anew before that.
    """
    chance = random.Random(20260317)
    plan = shop.issue()
    document_get_or_render(plan)
    shop.write(3 * moments, plan=plan)
    shop.forking.start()
    for number in range(moments):
        if shop.unsent() < 20:
            shop.write(3 * moments, plan=plan)
        if number % 10 == 9:
            shop.forking.kill()
            shop.forking.start()
        wait_until(lambda: bool(children(shop.forking.pid)), "a process to kill")
        # Mostly in the middle of the flow; now and then while the new process still finds its feet.
        wait_for_step(shop, "before-claim" if number % 5 == 4 else "after-mark")
        time.sleep(chance.uniform(0, 0.15))
        for pid in children(shop.forking.pid):
            os.kill(pid, signal.SIGKILL)
    shop.wait_until_sent(seconds=300)
    shop.forking.kill()
    verdict = shop.verdict()
    return {
        **verdict,
        "kills": moments + moments // 10,
        "died_at": died_at(shop),
        "may_be_twice": verdict["twice"] - verdict["unexplained"],
    }
