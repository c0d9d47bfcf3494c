#!/usr/bin/env python3
"""How long the room page takes, and how much memory: wall of a full book, a 12-megapixel photo, 20 phones at once, a soak.

usage: room.py CATCHCUP BOOK PHOTO [--soak MINUTES]

BOOK is a full book (CATCHCUP_BENCH_BOOK=FILE cargo bench --bench book fills one), copied before it is used; PHOTO any photo
of a scoop, for example one of sample-images: it is brought to 4000 x 3000 pixels where ImageMagick's `convert` is at hand.
Linux, nothing beyond Python 3 needed. The server's own time on the processor stands beside the time waited, for a busy
machine lengthens the latter. Fails above the limits at the top.
"""
import argparse
import http.client
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

WALL_MS = 200
UPLOAD_S = 1.5
PHONES_MB = 1024
SOAK_MB = 64       # what memory may grow by in a soak


class Server:
    def __init__(self, program, book, house):
        self.process = subprocess.Popen(
            [program, "serve", "--port", "0", "--book", str(book)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            text=True, cwd=house)
        self.host = self.code = None
        while not self.code:
            line = self.process.stdout.readline()
            if not line:
                sys.exit("the server did not start")
            if line.startswith("The room page: http://"):
                self.host = line.split("http://")[1].strip().rstrip("/")
            if line.startswith("Pairing code: "):
                self.code = line.split(": ")[1].strip()
        threading.Thread(target=self.process.stdout.read, daemon=True).start()
        reply, _ = self.ask("POST", "/pair", f"code={self.code}&name=bench",
                            {"Content-Type": "application/x-www-form-urlencoded"})
        self.cookie = reply.getheader("set-cookie").split(";")[0]

    def ask(self, method, path, body=None, headers=None):
        link = http.client.HTTPConnection(self.host, timeout=300)
        all_headers = {"Origin": f"http://{self.host}", **(headers or {})}
        if hasattr(self, "cookie"):
            all_headers["Cookie"] = self.cookie
        link.request(method, path, body, all_headers)
        reply = link.getresponse()
        return reply, reply.read()

    def status(self, name):
        text = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(rf"{name}:\s+(\d+) kB", text)[1]) / 1024

    def cpu(self):
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(") ", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def send(self, tank, photo):
        page = self.ask("GET", f"/tank/{tank}")[1].decode()
        key = re.search(r'name="key" value="(\w+)"', page)[1]
        body = (f'--E\r\nContent-Disposition: form-data; name="key"\r\n\r\n{key}\r\n--E\r\nContent-Disposition: form-data; '
                f'name="photo"; filename="a.jpg"\r\nContent-Type: image/jpeg\r\n\r\n').encode() + photo + b"\r\n--E--\r\n"
        reply, answer = self.ask("POST", f"/tank/{tank}/scoop", body, {"Content-Type": "multipart/form-data; boundary=E"})
        if reply.status != 303:
            sys.exit(f"{reply.status}: {answer[:500]}")
        return reply.getheader("location")

    def shown(self, tank, photo):
        where = self.send(tank, photo)
        reply, page = self.ask("GET", where)
        if reply.status != 200 or f"<h1>{tank}," not in page.decode():
            sys.exit(f"{tank}: another one's answer: {where}")


def large(photo):
    """The photo at 12 megapixels, as a phone makes it."""
    if not shutil.which("convert"):
        return photo.read_bytes()
    with tempfile.NamedTemporaryFile(suffix=".jpg") as out:
        subprocess.run(["convert", str(photo), "-resize", "4000x3000!", "-quality", "90", out.name], check=True)
        return Path(out.name).read_bytes()


def timed(server, work, times):
    waited, used = [], []
    for run in range(times):
        cpu, began = server.cpu(), time.monotonic()
        work(run)
        waited.append(time.monotonic() - began)
        used.append(server.cpu() - cpu)
    return statistics.median(waited), statistics.median(used)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("book", type=Path)
    parser.add_argument("photo", type=Path)
    parser.add_argument("--soak", type=float, default=0, metavar="MINUTES")
    given = parser.parse_args()
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder) / "full.book"
        shutil.copy(given.book, book)
        server = Server(str(Path(given.program).resolve()), book, folder)
        tanks = re.findall(r'href="/tank/([^"]+)"', server.ask("GET", "/")[1].decode())
        while "being worked out" in server.ask("GET", "/")[1].decode():
            time.sleep(0.5)
        waited, used = timed(server, lambda _: server.ask("GET", "/"), 15)
        print(f"wall of {len(tanks)} tanks: median {1000 * waited:.0f} ms waited, {1000 * used:.0f} ms of the processor")
        if 1000 * min(waited, used) > WALL_MS:
            faults.append("wall")
        photo = large(given.photo)
        waited, used = timed(server, lambda run: server.shown(tanks[run], photo + b"one%d" % run), 9)
        print(f"photo of {len(photo) / 1e6:.1f} MB to its answer: median {waited:.2f} s waited, {used:.2f} s of the processor")
        if min(waited, used) > UPLOAD_S:
            faults.append("upload")
        began = time.monotonic()
        phones = [threading.Thread(target=server.shown, args=(tanks[n + 10], photo + b"two%d" % n)) for n in range(20)]
        for phone in phones:
            phone.start()
        for phone in phones:
            phone.join()
        print(f"20 phones at once: {time.monotonic() - began:.1f} s, peak {server.status('VmHWM'):.0f} MB")
        if server.status("VmHWM") > PHONES_MB:
            faults.append("memory")
        end, run, before = time.monotonic() + 60 * given.soak, 0, None
        while time.monotonic() < end:
            server.shown(tanks[run % len(tanks)], photo + b"soak%d" % run)
            for path in ["/", f"/tank/{tanks[run % len(tanks)]}", "/trail", "/errors"]:
                server.ask("GET", path)
            run += 1
            # The first rounds fill what is remembered.
            if run == 30:
                before = server.status("VmRSS")
        if before is not None:
            after = server.status("VmRSS")
            print(f"soak of {run} photos: {before:.0f} MB after 30, {after:.0f} MB at the end")
            if after - before > SOAK_MB:
                faults.append("soak")
        server.process.kill()
    if faults:
        sys.exit("above the limits: " + ", ".join(faults))


main()
