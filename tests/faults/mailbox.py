"""A mail server in a process of its own that writes down every mail it accepts before it says 250.

`python mailbox.py FOLDER PORT DELAY_MS`: a mail becomes `<time in ns>.eml`; the 250 goes out DELAY_MS later.
"""

import asyncio
import contextlib
import os
import sys
import time
from pathlib import Path

from aiosmtpd.smtp import SMTP, Envelope, Session


class Keeper:
    def __init__(self, folder: Path, delay_s: float) -> None:
        self.folder, self.delay_s = folder, delay_s

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        path = self.folder / f"{time.time_ns()}.part"
        with path.open("wb") as file:
            file.write(bytes(envelope.original_content or b""))
            file.flush()
            os.fsync(file.fileno())
        path.rename(self.folder / f"{time.time_ns()}.eml")
        await asyncio.sleep(self.delay_s)
        return "250 Kept"


async def _serve(folder: Path, port: int, delay_s: float) -> None:
    keeper, loop = Keeper(folder, delay_s), asyncio.get_running_loop()
    server = await loop.create_server(
        lambda: SMTP(keeper, hostname="mail.example", loop=loop), "127.0.0.1", port, reuse_address=True
    )
    await server.serve_forever()


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_serve(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]) / 1000))
