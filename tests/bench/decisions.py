"""What a decision costs at the desk: 200 rulings in one scripted session, over HTTP, in an archive of many families.

    python -m tests.bench.decisions --work DIR [--families 5000] [--rulings 200]

Server and client are processes of their own, each on one core where the system lets one choose. A round trip is what
the person waits for: the form is sent, and the page that follows has arrived whole. The rulings are confirmations,
pieces taken out, joins, names and takings back, in turn, through the plain forms of the pages. What opening the queue
takes is measured in the same session.
"""

import argparse
import html
import os
import re
import statistics
import subprocess
import sys
import time
from pathlib import Path

import httpx

from intake.config.load import load_config
from tests.bench.desk_store import desk_store
from tests.made import CONFIG

HOST, PORT = "127.0.0.1", 8989
_HIDDEN = re.compile(r'<input type="hidden" name="(family|seen|parts|a|b)" value="([^"]*)">')


def serve(folder: Path) -> None:
    """Serve the home until ended."""
    import uvicorn

    from intake.services.home import Home
    from intake.web.app import make_app

    _one_core(0)
    uvicorn.run(make_app(Home(folder), load_config(CONFIG), HOST, PORT), host=HOST, port=PORT, log_level="error")


def _one_core(which: int) -> None:
    if hasattr(os, "sched_setaffinity"):
        cores = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(0, {cores[which % len(cores)]})


def _fields(text: str) -> dict[str, str]:
    body = text[text.index('id="rulings"') :]
    return {name: html.unescape(value) for name, value in _HIDDEN.findall(body)}


def _cpu_s(process: int) -> float:
    """CPU seconds that the server has used, by Linux's /proc; on a busy machine they say more than the clock does."""
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def session(rulings: int, server: int) -> tuple[list[float], list[float], float, float]:
    """(seconds of each round trip, of each opening of the queue; CPU seconds of the server for all of either)."""
    _one_core(1)
    base = f"http://{HOST}:{PORT}"
    trips: list[float] = []
    openings: list[float] = []
    cpu = queue_cpu = 0.0
    with httpx.Client(base_url=base, headers={"Origin": base}, follow_redirects=True, timeout=120) as client:
        client.post("/who", data={"who": "Ida Marl"})
        for _ in range(5):
            before, started = _cpu_s(server), time.perf_counter()
            first = client.get("/families")
            openings.append(time.perf_counter() - started)
            queue_cpu += _cpu_s(server) - before
        codes = re.findall(r'<h2>.*?href="/families/(F-[0-9A-Z]+)"', first.text, re.S)
        page = client.get(f"/families/{codes[0]}")
        for n in range(rulings):
            fields = _fields(page.text)
            verb = ("confirm", "part_off", "name_design", "join", "undo")[n % 5]
            if verb == "undo":
                number = re.findall(r'name="decision" value="([0-9]+)"', page.text)[0]
                given, address = {"decision": number}, "/undo"
            else:
                given, address = {**fields, "verb": verb, "title": f"NAME {n}", "other": codes[-1 - n % 20]}, "/rulings"
            before, started = _cpu_s(server), time.perf_counter()
            page = client.post(address, data=given)
            trips.append(time.perf_counter() - started)
            cpu += _cpu_s(server) - before
            assert page.status_code == 200, (verb, page.status_code, page.text[-800:])
            if "/families/F-" not in str(page.url):  # a family of two is gone: on with the next one
                code = re.findall(r'<h2>.*?href="/families/(F-[0-9A-Z]+)"', client.get("/families").text, re.S)[0]
                page = client.get(f"/families/{code}" + (f"?done={n + 1}" if (n + 1) % 5 == 4 else ""))
    return trips, openings, cpu, queue_cpu


def main() -> None:
    """Write the home where it is not there yet, measure, print."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--work", type=Path, required=True)
    options.add_argument("--families", type=int, default=5_000)
    options.add_argument("--rulings", type=int, default=200)
    options.add_argument("--serve", type=Path, help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.serve:
        serve(given.serve)
        return
    folder = given.work / f"desk-{given.families}-{time.time_ns()}"
    started = time.perf_counter()
    made = desk_store(folder, load_config(CONFIG), given.families, seed=1)
    pieces = sum(map(len, made.families)) + len(made.singles)
    print(f"{len(made.families):,} families, {pieces:,} pieces, written in {time.perf_counter() - started:.0f} s")
    made.home.database.close()
    server = subprocess.Popen([sys.executable, "-m", __spec__.name, "--work", str(given.work), "--serve", str(folder)])
    try:
        for _ in range(300):
            try:
                httpx.get(f"http://{HOST}:{PORT}/keys")
                break
            except httpx.TransportError:
                time.sleep(0.1)
        trips, openings, cpu, queue_cpu = session(given.rulings, server.pid)
    finally:
        server.terminate()
        server.wait()
    ranked = sorted(trips)
    opened = ", ".join(f"{1000 * t:.0f}" for t in openings)
    each = 1000 * queue_cpu / len(openings)
    print(f"queue opened {len(openings)} times: {opened} ms; {each:.0f} CPU-ms of the server each")
    print(
        f"{len(trips)} round trips: median {1000 * statistics.median(trips):.0f} ms, "
        f"p95 {1000 * ranked[int(0.95 * len(ranked))]:.0f} ms, most {1000 * ranked[-1]:.0f} ms; "
        f"{1000 * cpu / len(trips):.0f} CPU-ms of the server each; load of the machine {os.getloadavg()[0]:.1f}"
    )


if __name__ == "__main__":
    main()
