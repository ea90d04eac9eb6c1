"""The mailbox between the network threads and the engine."""

from __future__ import annotations

import threading
import time

from bridge.mailbox import Mailbox, SessionChange
from bridge.message import Message


def message(topic: str, number: int = 0) -> Message:
    return Message(topic, str(number).encode(), float(number))


def test_items_come_out_in_order_of_arrival_in_portions_of_the_limit() -> None:
    box = Mailbox()
    for number in range(10):
        assert box.put(message("a", number))
    taken = box.take(4, 0) + box.take(4, 0) + box.take(4, 0)
    assert [item.payload for item in taken if isinstance(item, Message)] == [str(n).encode() for n in range(10)]
    assert box.take(4, 0) == []


def test_f15_a_flooding_topic_is_dropped_and_counted_while_others_pass() -> None:
    box = Mailbox(capacity=100, per_topic=10)
    accepted = [box.put(message("flood", number)) for number in range(50)]
    assert accepted.count(True) == 10
    assert box.put(message("quiet"))
    assert box.dropped == {"flood": 40}
    assert [item.topic for item in box.take(1000, 0) if isinstance(item, Message)] == ["flood"] * 10 + ["quiet"]


def test_the_whole_box_is_bounded_but_a_session_change_always_fits() -> None:
    box = Mailbox(capacity=5, per_topic=5)
    for number in range(20):
        box.put(message(f"topic/{number}"))
    assert box.put(SessionChange("live", False, False, "gone"))
    assert len(box.take(1000, 0)) == 6
    assert sum(box.dropped.values()) == 15


def test_taking_waits_for_an_item_and_wake_ends_the_wait() -> None:
    box = Mailbox()
    threading.Timer(0.05, box.put, [message("late")]).start()
    before = time.monotonic()
    assert len(box.take(10, 10)) == 1
    threading.Timer(0.05, box.wake).start()
    assert box.take(10, 10) == []
    assert time.monotonic() - before < 9


def test_nothing_is_lost_or_doubled_with_two_writers_and_a_reader() -> None:
    box = Mailbox(capacity=100_000, per_topic=100_000)

    def write(topic: str) -> None:
        for number in range(5000):
            box.put(message(topic, number))

    writers = [threading.Thread(target=write, args=(topic,)) for topic in ("a", "b")]
    for writer in writers:
        writer.start()
    seen: dict[str, list[int]] = {"a": [], "b": []}
    while sum(map(len, seen.values())) < 10_000:
        for item in box.take(100, 1.0):
            assert isinstance(item, Message)
            seen[item.topic].append(int(item.payload))
    for writer in writers:
        writer.join()
    assert seen == {"a": list(range(5000)), "b": list(range(5000))}


def test_f58_a_signal_that_comes_while_its_thread_takes_mail_wakes_and_waits_for_nothing() -> None:
    box = Mailbox()

    def interrupted() -> None:
        with box._changed:  # inside `take`, where Python may call a signal handler
            box.wake()

    thread = threading.Thread(target=interrupted, daemon=True)
    thread.start()
    thread.join(20)
    assert not thread.is_alive()
    assert box.take(1, 60) == []
