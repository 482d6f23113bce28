"""Asks a running site how it is: exits 0 when GET /health answers well, 1 when it does not.

Used by run.sh, which waits for its server, and by the image's health check.
"""

import argparse
import http.client
import os
import sys
import time


def host_header(host: str, port: int) -> str:
    """The name the site is willing to answer to: the first allowed host, else the address itself."""
    first = os.environ.get("ALLOWED_HOSTS", "").split(",")[0].strip().lstrip(".")
    return first if first and first != "*" else f"{host}:{port}"


def healthy(host: str, port: int) -> bool:
    connection = http.client.HTTPConnection(host, port, timeout=5)
    try:
        connection.request(
            "GET", "/health", headers={"Host": host_header(host, port), "X-Forwarded-Proto": "https"}
        )
        return connection.getresponse().status == http.client.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except OSError:
        return False
    return True


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8000)
    parser.add_argument("--wait", type=float, default=0, metavar="SECONDS", help="keep asking for so long")
    parser.add_argument("--pid", type=int, help="give up at once when this process is gone")
    options = parser.parse_args()
    end = time.monotonic() + options.wait
    while True:
        if options.pid is not None and not alive(options.pid):
            return 1
        if healthy(options.host, options.port):
            return 0
        if time.monotonic() >= end:
            return 1
        time.sleep(0.1)


if __name__ == "__main__":
    sys.exit(main())
