"""The hub under test: its process, its REST interface, what it logs and what it tells people."""

from __future__ import annotations

import contextlib
import json
import subprocess
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path
from typing import Any

from tests.support.brokers import Broker, free_port, wait_until


class Hub:
    """The hub's process and its REST interface."""

    def __init__(self, program: str, folder: Path) -> None:
        self.program, self.folder, self.port, self.token = program, folder, free_port(), ""
        (folder / "configuration.yaml").write_text(
            f"http:\n  server_host: 127.0.0.1\n  server_port: {self.port}\n"
            "frontend:\nconfig:\napi:\nlogger:\n  default: warning\n"
        )
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start and wait until it answers."""
        self.process = subprocess.Popen(
            [self.program, "-c", str(self.folder), "--skip-pip"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        wait_until(self._answers, 120, "the hub answers")

    def add(self, configuration: str) -> None:
        """More lines for its configuration, read at the next start."""
        with (self.folder / "configuration.yaml").open("a") as lines:
            lines.write(configuration)

    def stop(self) -> None:
        """End this process."""
        if self.process is not None:
            self.process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(30)
            self.process.kill()

    def _answers(self) -> bool:
        with contextlib.suppress(OSError):
            self.ask("GET", "/api/onboarding")
            return True
        return False

    def ask(self, method: str, path: str, body: Any = None, form: bool = False) -> Any:
        """One request."""
        data, kind = None, "application/json"
        if body is not None:
            data = urllib.parse.urlencode(body).encode() if form else json.dumps(body).encode()
            kind = "application/x-www-form-urlencoded" if form else kind
        headers = {"Content-Type": kind} | ({"Authorization": f"Bearer {self.token}"} if self.token else {})
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, headers, method=method)
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                return json.loads(answer.read() or b"null")
        except urllib.error.HTTPError as error:
            raise AssertionError(f"{method} {path}: {error.code} {error.read().decode()}") from None

    def set_up(self, broker: Broker) -> None:
        """A first user, and the MQTT integration."""
        client = f"http://127.0.0.1:{self.port}/"
        user = {"client_id": client, "name": "Ada", "username": "ada", "password": "tarn", "language": "en"}
        code = self.ask("POST", "/api/onboarding/users", user)["auth_code"]
        grant = {"grant_type": "authorization_code", "code": code, "client_id": client}
        self.token = self.ask("POST", "/auth/token", grant, form=True)["access_token"]
        with contextlib.suppress(AssertionError):  # releases of 2026 leave an address after five minutes but for this
            self.socket(type="http/config/promote")
        flow = self.ask("POST", "/api/config/config_entries/flow", {"handler": "mqtt", "show_advanced_options": False})
        entry: dict[str, Any] = {"broker": broker.host, "port": broker.port}
        # Releases of 2026 fold what is rarely set into a part of its own, and want it although nothing is set.
        unset = {"set_client_cert": False, "set_ca_cert": "off"}
        folded = (one for one in flow["data_schema"] if one.get("type") == "expandable")
        entry |= {
            one["name"]: {each["name"]: unset[each["name"]] for each in one["schema"] if each["name"] in unset}
            for one in folded
        }
        done = self.ask("POST", f"/api/config/config_entries/flow/{flow['flow_id']}", entry)
        assert done["type"] == "create_entry", done
        kept = self.folder / ".storage/core.config_entries"  # written a second later, or never where it ends before
        wait_until(lambda: kept.exists() and '"mqtt"' in kept.read_text(), 60, "the hub keeps its MQTT connection")

    def states(self) -> dict[str, str]:
        """Entity -> state."""
        return {one["entity_id"]: one["state"] for one in self.ask("GET", "/api/states")}

    def press(self, entity: str) -> None:
        """Press a button as a person would."""
        self.ask("POST", "/api/services/button/press", {"entity_id": entity})

    def write(self, entity: str, words: str) -> None:
        """Write into a text field as a person would."""
        self.ask("POST", "/api/services/text/set_value", {"entity_id": entity, "value": words})

    def complaints(self) -> list[str]:
        """Lines of its log that are about us."""
        text = "".join(one.read_text() for one in self.folder.glob("home-assistant.log*"))
        print(f"      the hub has logged {len(text.splitlines())} lines")
        names = ("mqtt", "tarn", "homie", "revival")
        ours = [line for line in text.splitlines() if any(name in line.lower() for name in names)]
        killed = ("The connection was lost", "Disconnected from MQTT")  # a broker was ended on purpose
        return [line for line in ours if not any(words in line for words in killed)]

    def socket(self, **command: Any) -> Any:
        """Return the answer of its websocket interface, which alone tells of registries, statistics and its screen."""
        script = (
            "import aiohttp, asyncio, json, sys\n"
            "async def main():\n"
            "    token, command = json.loads(sys.stdin.read())\n"
            "    async with aiohttp.ClientSession() as session, session.ws_connect(sys.argv[1]) as socket:\n"
            "        await socket.receive_json()\n"
            "        await socket.send_json({'type': 'auth', 'access_token': token})\n"
            "        await socket.receive_json()\n"
            "        await socket.send_json({'id': 1} | command)\n"
            "        print(json.dumps(await socket.receive_json()))\n"
            "asyncio.run(main())\n"
        )
        answer = subprocess.run(
            [str(Path(self.program).parent / "python"), "-c", script, f"ws://127.0.0.1:{self.port}/api/websocket"],
            input=json.dumps([self.token, command]), check=False, timeout=120, capture_output=True, text=True,
        )  # fmt: skip
        assert answer.returncode == 0, answer.stderr
        told = json.loads(answer.stdout)
        assert told["success"], told
        return told["result"]

    def notifications(self) -> dict[str, str]:
        """Title -> message of what stands on the hub's own screen."""
        return {one["title"]: one["message"] for one in self.cards()}

    def cards(self) -> list[dict[str, str]]:
        """Everything that stands on the hub's own screen, each with its title and its message."""
        told: list[dict[str, str]] = self.socket(type="persistent_notification/get")
        return told

    def clear_screen(self) -> None:
        """Take every notification away, so that the next one is seen to come."""
        self.ask("POST", "/api/services/persistent_notification/dismiss_all", {})
