"""A process that writes to a journal until it is done or killed: ``writer.py URL GARDEN TOKEN NAME FROM TO``.

Tells each number on standard output once its write is acknowledged.
"""

import sys
from datetime import UTC, date, datetime

from service.store.errors import Busy
from service.store.once import Answer, Key, once
from service.store.repository import Repository
from service.store.session import Store


def main(url: str, garden: str, token: str, name: str, first: str, last: str) -> None:
    store, now = Store(url, lock_timeout=20), datetime(2027, 6, 1, tzinfo=UTC)
    for number in range(int(first), int(last)):
        line = {"did": "watered", "date": date(2027, 5, 2), "bed": "kiln", "planting": "kale"}

        def work(session, line=line, number=number):
            Repository(session).log(garden, {**line, "note": f"{name} {number}"}, now=now)
            return Answer(201, str(number).encode())

        while True:
            try:
                once(store, Key(token, f"{name}-{number}", str(number)), work, now=now)
            except Busy:
                continue
            break
        print(number, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
