"""`python -m tests.doubles.telegram`: the server as a process of its own; prints its port and serves."""

import argparse
import os

from tests.doubles.telegram.platform import Platform
from tests.doubles.telegram.running import IDLE, Server, end_with


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.doubles.telegram", description=__doc__)
    parser.add_argument("--port", type=int, default=0, help="port on the loopback; 0 lets the system pick one")
    parser.add_argument("--idle", type=float, default=IDLE, help="seconds without a request until the server ends")
    parser.add_argument("--parent", type=int, default=os.getppid(), help="the server ends when this process is gone")
    given = parser.parse_args()
    platform = Platform()
    server = Server(platform, port=given.port, idle=given.idle)
    end_with(given.parent, server)
    print(server.port, flush=True)
    server.run()


if __name__ == "__main__":
    main()
