"""Which switch is the charger's relay: by its words in any language, and by the amps that flow while it is on."""

from __future__ import annotations

import pytest

from bridge.listen.collect import Collector
from bridge.listen.relays import relays
from bridge.listen.write import cabin_file, recognise
from bridge.message import Message
from bridge.settings import BrokerSettings
from tests.bridge.listen.test_listen_company import bank, late
from tests.bridge.listen.test_listen_strange import say

#: A charger that was let off twice for a while, seen each second.
LET_OFF = [t for t in range(250) if 60 <= t < 110 or 170 <= t < 220]
FLOWS = [-0.4 if t in LET_OFF else 9.0 + 0.02 * (t % 5) for t in range(250)]


def template(messages: list[Message]) -> list[str]:
    """Return the relay's table as `revival listen` prints it, without its marks."""
    collector = Collector()
    for message in sorted(messages, key=lambda one: one.at):
        collector.take(message)
    found = recognise(collector.sources)
    lines = cabin_file(found, BrokerSettings(), relays=relays(collector.switches, found)).splitlines()
    begin = lines.index("# [bank.relay]") if "# [bank.relay]" in lines else len(lines)
    return [line.removeprefix("# ") for line in lines[begin + 1 :] if "auto_off" not in line and "power_on" not in line]


@pytest.mark.parametrize(
    ("state", "said", "order", "ordered", "words"),
    [
        ("ladegeraet/zustand", "ein", "ladegeraet/schalten", "ein", ("aus", "ein", None, None)),
        ("cargador/rele", "cerrado", "cargador/orden", "abrir", ("abrir", "cerrar", "abierto", "cerrado")),
        ("stycznik/stan", "zamknięty", "stycznik/polecenie", "zamknij", ("otwórz", "zamknij", "otwarty", "zamknięty")),
        ("chargeur/enclenche", "NON", "chargeur/commande", "NON", ("NON", "OUI", None, None)),
    ],
    ids=["German", "Spanish", "Polish", "French"],
)
def test_a_relay_is_offered_with_the_words_of_its_orders_and_of_its_state(
    state: str, said: str, order: str, ordered: str, words: tuple[str, str, str | None, str | None]
) -> None:
    messages = [
        *bank("hut/battery/volts", "hut/battery/amps"),
        *say(f"hut/battery/{state}", *[said] * 9),
        *say(f"hut/battery/{order}", ordered),
        *say("hut/garage/gate/zustand", *[said] * 9),
    ]
    keys = ("cut", "allow", "state_open", "state_closed")
    told = template(messages)
    assert told[:4] == [
        f'topic = "hut/battery/{order}"',
        *(f'{key} = "{word}"' for key, word in zip(keys[:2], words, strict=False)),
        f'state_topic = "hut/battery/{state}"',
    ]
    expected = [f'{key} = "{word}"' for key, word in zip(keys[2:], words[2:], strict=True) if word]
    assert [line for line in told if line.startswith(("state_open", "state_closed"))] == expected


def test_a_word_that_no_switch_says_is_no_relays_state() -> None:
    messages = bank("hut/battery/volts", "hut/battery/amps") + say("hut/battery/ladegeraet/zustand", *["warten"] * 9)
    assert template(messages) == []


def plugs(*, follows: bool) -> list[Message]:
    """A bank whose charger hangs at one of three sockets that no name tells, and is let off twice."""
    messages = say("hut/battery/volts", *(f"{volt:.2f} V" for volt in late(FLOWS)))
    messages += say("hut/battery/amps", *(f"{flow:.2f} A" for flow in FLOWS))
    for number in range(3):
        on = [t not in LET_OFF if number == 1 and follows else (t // 40 + number) % 2 == 0 for t in range(250)]
        messages += say(f"sockets/p{number}", *({"on": one, "w": 3.0 * number} for one in on))
    return messages


def test_the_socket_that_is_on_while_amps_flow_is_the_chargers() -> None:
    told = template(plugs(follows=True))
    assert 'state_topic = "sockets/p1"' in told
    assert 'state_pointer = "/on"' in told
    assert template(plugs(follows=False)) == []


def test_a_kept_name_makes_a_socket_the_chargers() -> None:
    still = [t not in LET_OFF for t in range(250)]
    messages = bank("hut/battery/volts", "hut/battery/amps")
    for name, called in {"p1": "kettle", "p2": "equalising charger", "p3": "freezer"}.items():
        messages += say(f"plugs/{name}/state", *({"on": True, "w": 3.0 + (t % 3)} for t in range(len(still))))
        messages += say(f"plugs/config/{name}", {"called": called, "kind": "socket"}, retain=True)
    assert 'state_topic = "plugs/p2/state"' in template(messages)
