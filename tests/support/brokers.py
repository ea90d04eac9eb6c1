"""Real servers for the tests: a mosquitto per configuration, certificates, and a loopback proxy that misbehaves.

Everything listens on the loopback address only, on a free port, and is ended by its own process id.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterable
from pathlib import Path

#: Not the one that a property test seeds.
DICE = random.SystemRandom()
SLACK = 3.0  #: waits in tests end this many times later than the test asks for: the machine may be slow or busy


def need(program: str) -> str:
    """Path of an installed program; a test without its server fails, it never skips."""
    found = shutil.which(program) or shutil.which(program, path="/usr/sbin:/usr/local/sbin:/sbin:/usr/bin")
    if found is None:
        raise RuntimeError(
            f"{program} is not installed; the tests need the real one: `sh tests/run` as root installs it with apt"
        )
    return found


def free_port() -> int:
    """A port that nobody listens on, below those that the system hands out to clients meanwhile."""
    while True:
        port = DICE.randrange(12_000, 32_000)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("", port))
            return port


def wait_until(condition: Callable[[], object], timeout: float = 10.0, what: str = "") -> None:
    """Poll until `condition` is truthy; fail with words after `timeout` [s] and the slack."""
    deadline = time.monotonic() + SLACK * timeout
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"waited {SLACK * timeout:g} s in vain: {what or condition}")
        time.sleep(0.01)


class Broker:
    """One mosquitto process with its own configuration and folder."""

    def __init__(
        self, folder: Path, lines: Iterable[str] = (), *, anonymous: bool = True, tls: Certificates | None = None
    ) -> None:
        self.host = "127.0.0.1"
        self.port = free_port()
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None
        folder.mkdir(parents=True, exist_ok=True)
        text = [f"listener {self.port} 127.0.0.1"]
        if tls:
            text += [f"cafile {tls.ca}", f"certfile {tls.certificate}", f"keyfile {tls.key}"]
        text += [f"allow_anonymous {str(anonymous).lower()}", "max_queued_messages 100000", *lines]
        if shutil.which("id") and Path("/proc/self").owner() == "root":
            text.append("user root")
        self.config = folder / "mosquitto.conf"
        self.config.write_text("\n".join(text) + "\n")
        self.log = folder / "mosquitto.log"

    def start(self) -> Broker:
        """Start and wait until it accepts connections."""
        with self.log.open("ab") as log:
            self.process = subprocess.Popen([need("mosquitto"), "-c", str(self.config)], stdout=log, stderr=log)
        wait_until(self._accepts, 15.0, f"mosquitto on port {self.port}: {self.log}")
        return self

    def _accepts(self) -> bool:
        if self.process is None or self.process.poll() is not None:
            raise RuntimeError(f"mosquitto ended at once: {self.log.read_text()}")
        with contextlib.suppress(OSError), socket.create_connection((self.host, self.port), 0.5):
            return True
        return False

    def stop(self, how: signal.Signals = signal.SIGTERM) -> None:
        """End it (SIGKILL for a crash) and wait."""
        process, self.process = self.process, None
        if process is not None and process.poll() is None:
            process.send_signal(signal.SIGCONT)
            for _ in range(10):
                # A broker that listens already, but whose loop has not begun, forgets that it was told to end.
                process.send_signal(how)
                with contextlib.suppress(subprocess.TimeoutExpired):
                    process.wait(2)
                    return
            raise AssertionError(f"the broker {process.pid} does not end")

    def restart(self) -> Broker:
        """Stop and start again on the same port: empty, unless the lines ask for persistence."""
        self.stop()
        return self.start()

    def freeze(self) -> None:
        """The process stays, the connections stay, nothing answers."""
        assert self.process is not None
        self.process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Continue after `freeze`."""
        assert self.process is not None
        self.process.send_signal(signal.SIGCONT)

    def publish(self, topic: str, payload: str, *options: str) -> None:
        """Publish with a client that is not ours (`mosquitto_pub`)."""
        subprocess.run(
            [need("mosquitto_pub"), "-h", self.host, "-p", str(self.port), "-t", topic, "-m", payload, *options],
            check=True,
            timeout=20,
            capture_output=True,
        )

    def clear(self, topic: str) -> None:
        """Remove a retained message."""
        self.publish(topic, "", "-r", "-q", "1")


def password_file(folder: Path, **users: str) -> Path:
    """A mosquitto password file with these users."""
    path = folder / "passwords"
    folder.mkdir(parents=True, exist_ok=True)
    path.write_text("".join(f"{user}:{password}\n" for user, password in users.items()))
    path.chmod(0o600)
    subprocess.run([need("mosquitto_passwd"), "-U", str(path)], check=True, capture_output=True)
    return path


class Certificates:
    """A throw-away authority, a server certificate for 127.0.0.1 and a client certificate, made with openssl."""

    def __init__(self, folder: Path, *, expired: bool = False) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.ca = folder / "ca.pem"
        self._ca_key = folder / "ca.key"
        (folder / "ca.cnf").write_text(
            "[ca]\ndefault_ca=own\n[own]\nnew_certs_dir=.\ndatabase=index.txt\nserial=serial\ndefault_md=sha256\n"
            "policy=any\nunique_subject=no\ncopy_extensions=copy\n[any]\ncommonName=supplied\n"
        )
        (folder / "index.txt").write_text("")
        (folder / "serial").write_text("1000\n")
        self._openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-keyout", "ca.key", "-out", "ca.pem",
                      "-days", "30", "-subj", "/CN=tarn-hut test authority")  # fmt: skip
        self.certificate, self.key = self._issue("server", "127.0.0.1", expired)
        self.client_certificate, self.client_key = self._issue("client", "revival", False)

    def _openssl(self, *words: str) -> None:
        subprocess.run([need("openssl"), *words], cwd=self.folder, check=True, capture_output=True, timeout=60)

    def _issue(self, name: str, common_name: str, expired: bool) -> tuple[Path, Path]:
        names = "subjectAltName=IP:127.0.0.1,DNS:localhost"
        self._openssl("req", "-newkey", "rsa:2048", "-nodes", "-keyout", f"{name}.key", "-out", f"{name}.csr",
                      "-subj", f"/CN={common_name}", "-addext", names)  # fmt: skip
        start, end = ("20200101000000Z", "20200201000000Z") if expired else ("20200101000000Z", "20491231235959Z")
        self._openssl("ca", "-batch", "-config", "ca.cnf", "-cert", "ca.pem", "-keyfile", "ca.key", "-notext",
                      "-startdate", start, "-enddate", end, "-in", f"{name}.csr", "-out", f"{name}.pem")  # fmt: skip
        return self.folder / f"{name}.pem", self.folder / f"{name}.key"


class Proxy:
    """A loopback TCP proxy: `delay` [s] per chunk, `stalled` passes nothing on, `cut()` drops everybody."""

    def __init__(self, port: int, host: str = "127.0.0.1") -> None:
        self.target = (host, port)
        self.host, self.delay, self.stalled, self.refusing = "127.0.0.1", 0.0, False, False
        self._pairs: list[socket.socket] = []
        self._lock = threading.Lock()
        self._running = True
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while self._running:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            try:
                if self.refusing:
                    raise OSError("refusing")
                far = socket.create_connection(self.target, 5)
            except OSError:
                near.close()
                continue
            far.settimeout(None)
            for end in (near, far):
                end.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            with self._lock:
                if not self._running:  # closed while this one was let in: nobody would end it
                    near.close()
                    far.close()
                    return
                self._pairs += [near, far]
            for source, sink in ((near, far), (far, near)):
                threading.Thread(target=self._pump, args=(source, sink), daemon=True).start()

    def _pump(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while chunk := source.recv(65536):
                if self.delay:
                    time.sleep(self.delay)
                while self.stalled and self._running:
                    time.sleep(0.01)
                sink.sendall(chunk)
        for end in (source, sink):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def cut(self) -> None:
        """Drop every connection at once; new ones are accepted unless `refusing`."""
        with self._lock:
            pairs, self._pairs = self._pairs, []
        for end in pairs:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def close(self) -> None:
        """End the proxy."""
        with self._lock:
            self._running = False
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self.cut()
