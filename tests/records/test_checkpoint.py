"""What the deciding part remembers comes back bit for bit; a damaged copy is told and the one before it is taken."""

import errno
import math
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from controller.core.alarms.memory import Alarm
from controller.core.memory import (
    Batch,
    ChannelMemory,
    JudgeMemory,
    Loops,
    Memory,
    OutputMemory,
    StageEnd,
    Suspicion,
)
from controller.core.outage.away import Starts
from controller.core.values import Reading
from controller.core.watch.memory import IdleWatch, Watch
from controller.records.checkpoint import decode_memory, encode_memory, load_checkpoint, save_checkpoint
from controller.records.durable import previous_of
from tests.helpers.recorded import PROFILE, WALL_S, batch

FULL = Memory(
    started_s=1000.0,
    last_s=2000.1,
    boot_id="boot-1",
    wall_s=WALL_S,
    wall_trusted=True,
    starts=Starts((5.0,), (1.0, 2.5)),
    air_temp_c=36.0625,
    batches=(
        batch(
            hung_s=3600.0,
            ended=(StageEnd("warm", 1.0, 2.0, "hang"),),
            ph=((WALL_S, 5.81), (WALL_S + 1, 5.2)),
            ph_ids=("a", "b"),
            green_g={"A": 412.0},
            now_g={"A": 400.1},
            suspicion=Suspicion("S3", 5.0, (1.0,)),
        ),
    ),
    alarms=(Alarm("A3-2", "A3", "1", 'Lamp gives "no" heat, 0.1 K', WALL_S, latched=True),),
    counts={"A3": 2},
    answered=("x", "inf"),
    judge=JudgeMemory(channels={"air_temp": ChannelMemory(good=Reading(36.0625, 1999.7), odd=(1.0, 2.0))}),
    outputs={"heater": OutputMemory(on_ends_s=math.inf, on_total_s=1e-300, closings=7), "fan": OutputMemory()},
    loops=Loops(heat_integral=0.1 + 0.2),
    watch=Watch(idle=IdleWatch(marks=((1.0, 2.0),))),
)


def bits(memory: Memory) -> str:
    """Return every number as Python writes it: different for 0.0 and -0.0, and for neighbours of one bit."""
    return repr(memory)


def test_a_memory_full_of_for_ever_ago_comes_back_bit_for_bit() -> None:
    assert Memory(started_s=0.0, last_s=0.0).saved_s == -math.inf
    assert bits(decode_memory(encode_memory(FULL))) == bits(FULL)


@settings(max_examples=60)
@given(st.floats(allow_nan=False), st.floats(allow_nan=False), st.text(), st.floats(allow_nan=False) | st.none())
def test_any_number_and_any_text_comes_back_bit_for_bit(
    instant_s: float, other: float, text: str, maybe: float | None
) -> None:
    memory = replace(
        FULL,
        saved_s=instant_s,
        highest_c=maybe,
        counts={text: 3},
        outputs={"heater": OutputMemory(carry_s=other)},
        batches=(replace(FULL.batches[0], held_because=text, elapsed_s=other),),
    )
    assert bits(decode_memory(encode_memory(memory))) == bits(memory)


def test_two_batches_of_different_profiles_keep_them_apart() -> None:
    other = replace(PROFILE, name="other")
    memory = replace(FULL, batches=(batch(), Batch(id="2", profile=other, began_wall_s=1.0)))
    assert decode_memory(encode_memory(memory)).batches == memory.batches


def test_where_nothing_was_ever_saved_nothing_is_said(tmp_path: Path) -> None:
    loaded = load_checkpoint(tmp_path / "checkpoint.msgpack")
    assert (loaded.memory, loaded.warnings) == (None, ())


def saved(tmp_path: Path) -> Path:
    path = tmp_path / "checkpoint.msgpack"
    save_checkpoint(path, replace(FULL, last_s=1.0), force=True)
    save_checkpoint(path, replace(FULL, last_s=2.0), force=True)
    return path


def test_the_newest_is_taken_and_the_one_before_is_kept(tmp_path: Path) -> None:
    loaded = load_checkpoint(saved(tmp_path))
    assert loaded.memory is not None
    assert (loaded.memory.last_s, loaded.warnings) == (2.0, ())


def test_every_single_damaged_byte_is_found_and_the_copy_before_is_taken(tmp_path: Path) -> None:
    path = saved(tmp_path)
    whole = path.read_bytes()
    for place in (*range(40), *range(40, len(whole) - 1, 97)):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x04]) + whole[place + 1 :])
        loaded = load_checkpoint(path)
        assert loaded.memory is not None
        assert loaded.memory.last_s == 1.0, f"byte {place}"
        assert "checkpoint.msgpack is damaged" in loaded.warnings[0]


def test_a_missing_newest_one_is_told(tmp_path: Path) -> None:
    path = saved(tmp_path)
    path.unlink()
    loaded = load_checkpoint(path)
    assert loaded.memory is not None
    assert loaded.memory.last_s == 1.0
    assert "is missing; the copy before it is taken" in loaded.warnings[0]


def test_when_both_are_damaged_that_is_told(tmp_path: Path) -> None:
    path = saved(tmp_path)
    path.write_bytes(b"\0" * 100)
    previous_of(path).write_bytes(b"")
    loaded = load_checkpoint(path)
    assert loaded.memory is None
    assert len(loaded.warnings) == 3
    assert loaded.warnings[-1] == ("No copy of it is whole: open batches are not known any more; their folders are.")


def test_a_checkpoint_of_another_version_is_not_guessed_at(tmp_path: Path) -> None:
    path = tmp_path / "checkpoint.msgpack"
    path.write_bytes(encode_memory(FULL).replace(b'"version":1', b'"version":9', 1))
    assert "its version is 9, this program reads 1" in load_checkpoint(path).warnings[0]


def test_a_memory_that_cannot_be_gone_on_with_counts_as_damaged_whatever_its_check_sum_says(tmp_path: Path) -> None:
    path = tmp_path / "c.msgpack"
    memory = FULL
    save_checkpoint(path, memory, force=False)
    save_checkpoint(path, replace(memory, batches=(replace(memory.batches[0], stage_index=99),)), force=False)
    loaded = load_checkpoint(path)
    assert loaded.memory == memory
    assert "is damaged: its check sum is right, but batch 2026-01-05-bench-1: it has no stage 99" in loaded.warnings[0]


def test_lists_too_deep_in_each_other_are_damage(tmp_path: Path) -> None:
    path = tmp_path / "c.msgpack"
    body = b"\x91" * 100_000
    path.write_bytes(b'{"version":1,"crc32":%d}\n%b' % (zlib.crc32(body), body))
    loaded = load_checkpoint(path)
    assert loaded.memory is None
    assert "is damaged" in loaded.warnings[0]


def test_a_copy_that_the_disk_does_not_give_at_once_is_asked_for_again_for_some_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, pauses, read = saved(tmp_path), list[float](), Path.read_bytes

    def only_after_a_while(self: Path) -> bytes:
        if sum(pauses) < 5.0:
            raise OSError(errno.EIO, "Input/output error")
        return read(self)

    monkeypatch.setattr(Path, "read_bytes", only_after_a_while)
    loaded = load_checkpoint(path, pauses.append)
    assert loaded.memory is not None
    assert (loaded.warnings, loaded.damaged) == ((), ())
