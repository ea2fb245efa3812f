"""Processes, ports and rows for the scripts that let other programs meet the server."""

import os
import signal
import socket
import sqlite3
import subprocess
import time

STARTED = []


def start(folder, *command, **more):
    log = open(folder / f"log-{len(STARTED)}.txt", "wb")
    process = subprocess.Popen(list(map(str, command)), stdout=log, stderr=log,
                               start_new_session=True, **more)
    STARTED.append(process)
    return process


def stop(process):
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(5)


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def until(is_true, what, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if is_true():
            return
        time.sleep(0.2)
    raise SystemExit(what)


def listens(port):
    def is_there():
        with socket.socket() as s:
            return s.connect_ex(("127.0.0.1", port)) == 0

    until(is_there, f"nothing listens on {port}")


def rows(database, sql, *of):
    connection = sqlite3.connect(f"file:{database}?mode=ro", uri=True)
    try:
        return connection.execute(sql, of).fetchall()
    finally:
        connection.close()
