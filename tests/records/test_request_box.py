"""Every request is answered exactly once, and nothing heats by an old wish."""

import os
import stat
import threading
from collections.abc import Callable
from datetime import date
from pathlib import Path

import msgspec
import pytest

from controller.core.requests import Hang, Note, Ph, Request, Resume, Start
from controller.core.values import Answer
from controller.errors import AccessError, DataError, TryAgainError, UnavailableError
from controller.records.asking import post, wait_for_answer, withdraw
from controller.records.batch_folder import batches_of, next_batch_id
from controller.records.request_box import RequestBox, answer_file, make_box, requests_of, this_boot, write_answer
from controller.records.status import FILE as STATUS
from controller.records.status import status_of, write_status
from tests.helpers.recorded import PROFILE, WALL_S, Ticks

BOOT = "boot-1"
NOBODYS_GROUP = 12_345
PH = Ph(id="ph-1", batch="", at_wall_s=WALL_S, value=5.21, instrument="meter")


class Now:
    """Be CLOCK_BOOTTIME as a number that a test sets."""

    def __init__(self) -> None:
        self.s = 1000.0

    def __call__(self) -> float:
        return self.s


def box_of(tmp_path: Path, now: Now | None = None, **told: object) -> RequestBox:
    return RequestBox(tmp_path, boot_id=BOOT, boottime_s=now or Now(), **told)  # type: ignore[arg-type]


def type_in(tmp_path: Path, request: Request, *, boot_id: str = BOOT, at_s: float = 1000.0) -> None:
    post(tmp_path, request, boot_id=boot_id, boottime_s=at_s, typed_wall_s=WALL_S + at_s)


def answer_to(tmp_path: Path, request_id: str) -> Answer:
    return msgspec.json.decode(answer_file(tmp_path, request_id).read_bytes(), type=Answer)


def in_box(tmp_path: Path) -> list[str]:
    return sorted(path.name for path in (requests_of(tmp_path) / "new").iterdir())


def test_a_request_is_handed_over_once_and_lies_in_the_box_until_it_is_answered(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, PH)
    assert box.take() == (PH,)
    assert box.take() == ()
    assert in_box(tmp_path) == ["ph-1.json"]
    write_answer(tmp_path, Answer("ph-1", done=True, text="noted"), force=True)
    assert (in_box(tmp_path), box.take()) == ([], ())
    assert wait_for_answer(tmp_path, "ph-1", 0.0) == Answer("ph-1", done=True, text="noted")
    assert not answer_file(tmp_path, "ph-1").exists()


def test_requests_come_oldest_first_those_from_before_the_boot_before_all_others(tmp_path: Path) -> None:
    for name, boot, at_s in (
        ("c", BOOT, 990.0),
        ("a", BOOT, 995.0),
        ("z", "boot-0", 99_000.0),
        ("y", "boot-0", 98_000.0),
    ):
        type_in(tmp_path, Note(id=name, at_wall_s=0.0, text=name), boot_id=boot, at_s=at_s)
    assert [request.id for request in box_of(tmp_path).take()] == ["y", "z", "c", "a"]


def test_a_box_that_has_long_been_quiet_costs_one_look_at_its_date(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    os.utime(requests_of(tmp_path) / "new", (1.0, 1.0))
    box.take()
    (requests_of(tmp_path) / "new").chmod(0)  # Nobody but root could list it now.
    assert box.take() == ()
    assert box.trouble() == ()


def test_a_request_that_comes_within_the_grain_of_the_folders_date_is_not_missed(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, PH)
    new = requests_of(tmp_path) / "new"
    dated_ns = new.stat().st_mtime_ns
    assert box.take() == (PH,)
    type_in(tmp_path, Note(id="n", at_wall_s=0.0, text="a moment later"))
    os.utime(new, ns=(dated_ns, dated_ns))  # As a file system with coarse dates would leave it.
    assert [request.id for request in box.take()] == ["n"]


@pytest.mark.parametrize(
    "command", [Hang(id="x"), Resume(id="x"), Start(id="x", batch="b", profile=PROFILE, meat_kg=1.0)]
)
def test_a_command_older_than_a_minute_is_refused_with_an_answer(tmp_path: Path, command: Request) -> None:
    now = Now()
    type_in(tmp_path, command)
    now.s = 1061.0
    assert box_of(tmp_path, now).take() == ()
    assert answer_to(tmp_path, "x") == Answer(
        "x", done=False, text="this was typed 61 s ago, more than 60 s; it was not done, say it again"
    )
    assert in_box(tmp_path) == []


def test_a_command_of_just_a_minute_is_taken(tmp_path: Path) -> None:
    now = Now()
    type_in(tmp_path, Hang(id="x"))
    now.s = 1060.0
    assert [request.id for request in box_of(tmp_path, now).take()] == ["x"]


def test_a_command_of_another_boot_or_from_the_future_is_refused(tmp_path: Path) -> None:
    type_in(tmp_path, Hang(id="other"), boot_id="boot-0")
    type_in(tmp_path, Hang(id="future"), at_s=1001.0)
    assert box_of(tmp_path).take() == ()
    assert "restarted since" in answer_to(tmp_path, "other").text
    assert not answer_to(tmp_path, "future").done


def test_a_reading_is_taken_however_old_and_of_whatever_boot(tmp_path: Path) -> None:
    type_in(tmp_path, PH, boot_id="boot-0", at_s=5.0)
    now = Now()
    now.s = 1e6
    assert box_of(tmp_path, now).take() == (PH,)


def test_where_all_is_taken_as_typed_now_old_commands_are_taken_too(tmp_path: Path) -> None:
    type_in(tmp_path, Hang(id="x"), boot_id="boot-0")
    assert [request.id for request in box_of(tmp_path, fresh_s=None).take()] == ["x"]


def test_after_a_crash_before_the_answer_an_old_command_is_handed_over_to_be_answered_again(tmp_path: Path) -> None:
    type_in(tmp_path, Hang(id="x"))
    assert len(box_of(tmp_path).take()) == 1  # Done, and the program dies before the answer.
    now = Now()
    now.s = 5000.0
    assert [request.id for request in box_of(tmp_path, now, answered=("x",)).take()] == ["x"]


def test_the_same_command_that_comes_a_second_time_is_not_called_too_old(tmp_path: Path) -> None:
    """Who has done it says so; that it was not done would be a second answer, and a wrong one."""
    now = Now()
    box = box_of(tmp_path, now)
    type_in(tmp_path, Hang(id="x"))
    assert [request.id for request in box.take()] == ["x"]
    write_answer(tmp_path, Answer("x", done=True, text="hung"), force=True)
    assert wait_for_answer(tmp_path, "x", 0.0).done
    assert box.take() == ()
    now.s += 5000.0
    type_in(tmp_path, Hang(id="x"))
    assert [request.id for request in box.take()] == ["x"]


def test_a_command_that_is_known_no_more_is_too_old_again(tmp_path: Path) -> None:
    """The deciding part remembers a limited number of ids; what it has forgotten it would do anew."""
    now = Now()
    now.s = 5000.0
    type_in(tmp_path, Hang(id="x"))
    box = box_of(tmp_path, now, answered=("x", *(f"later-{number}" for number in range(150))))
    assert box.take() == ()
    assert "not done" in answer_to(tmp_path, "x").text


def test_after_a_crash_between_the_answer_and_clearing_up_nothing_is_answered_again(tmp_path: Path) -> None:
    type_in(tmp_path, PH)
    answer_file(tmp_path, "ph-1").write_bytes(msgspec.json.encode(Answer("ph-1", done=True, text="noted")))
    assert box_of(tmp_path).take() == ()
    assert in_box(tmp_path) == []
    assert answer_to(tmp_path, "ph-1").text == "noted"


def test_an_answer_that_was_fetched_before_a_crash_is_not_given_a_second_time(tmp_path: Path) -> None:
    """The daemon is killed when the answer can be read and the request is not yet taken out of the box."""
    type_in(tmp_path, PH)
    answer_file(tmp_path, "ph-1").write_bytes(msgspec.json.encode(Answer("ph-1", done=True, text="noted")))
    assert wait_for_answer(tmp_path, "ph-1", 0.0).text == "noted"
    assert box_of(tmp_path, answered=("ph-1",)).take() == ()
    assert list((tmp_path / "answers").iterdir()) == []


@pytest.mark.parametrize("damage", [b"", b"\0" * 50, b'{"version":1}', "half".encode("utf-16")])
def test_a_damaged_request_is_set_aside_and_answered(tmp_path: Path, damage: bytes) -> None:
    box = box_of(tmp_path)
    (requests_of(tmp_path) / "new" / "bad-1.json").write_bytes(damage)
    type_in(tmp_path, PH)
    assert box.take() == (PH,)
    assert answer_to(tmp_path, "bad-1").text.startswith("the request is damaged and was not done; type it again")
    assert (requests_of(tmp_path) / "damaged" / "bad-1.json").read_bytes() == damage
    assert in_box(tmp_path) == ["ph-1.json"]


def test_a_request_under_another_name_than_its_own_is_damaged(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, PH)
    new = requests_of(tmp_path) / "new"
    (new / "ph-1.json").rename(new / "ph-2.json")
    assert box.take() == ()
    assert not answer_to(tmp_path, "ph-2").done


def test_a_withdrawn_request_is_never_done(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, Hang(id="x"))
    assert withdraw(tmp_path, "x")
    assert not withdraw(tmp_path, "x")
    assert box.take() == ()


def test_batches_of_one_day_are_numbered(tmp_path: Path) -> None:
    day = date(2026, 1, 5)
    assert next_batch_id(tmp_path, "tangy", day) == "2026-01-05-tangy-1"
    (batches_of(tmp_path) / "2026-01-05-tangy-1").mkdir(parents=True)
    assert next_batch_id(tmp_path, "tangy", day) == "2026-01-05-tangy-2"


def test_a_batch_whose_folder_is_there_already_gets_the_next_one(tmp_path: Path) -> None:
    (batches_of(tmp_path) / "2026-01-05-bench-1").mkdir(parents=True)
    type_in(tmp_path, Start(id="x", batch="2026-01-05-bench-1", profile=PROFILE, meat_kg=1.0))
    (request,) = box_of(tmp_path).take()
    assert isinstance(request, Start)
    assert request.batch == "2026-01-05-bench-2"


def test_no_batch_can_be_named_into_another_folder(tmp_path: Path) -> None:
    type_in(tmp_path, Start(id="x", batch="../../etc", profile=PROFILE, meat_kg=1.0))
    assert box_of(tmp_path).take() == ()
    assert "letters, digits, points and hyphens only" in answer_to(tmp_path, "x").text


def test_no_request_can_be_named_into_another_folder(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="request id"):
        type_in(tmp_path, Hang(id="../x"))


def test_the_box_is_open_to_its_group_whatever_the_umask_says(tmp_path: Path) -> None:
    old = os.umask(0o077)
    try:
        make_box(tmp_path)
        type_in(tmp_path, PH)
    finally:
        os.umask(old)
    new = requests_of(tmp_path) / "new"
    assert stat.S_IMODE(new.stat().st_mode) == 0o2770
    assert stat.S_IMODE((new / "ph-1.json").stat().st_mode) == 0o660


def test_who_may_not_write_is_told_which_group_to_join() -> None:
    import subprocess
    import sys
    import tempfile

    script = (
        "import os, sys; from pathlib import Path; from controller.core.requests import Hang;"
        "from controller.records.asking import post; from controller.errors import AccessError\n"
        "if os.getuid() == 0: os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
        "try: post(Path(sys.argv[1]), Hang(id='x'), boot_id='b', boottime_s=1.0, typed_wall_s=1.0)\n"
        "except AccessError as error: print(error); sys.exit(error.exit_code)\n"
    )
    with tempfile.TemporaryDirectory() as open_to_all:  # pytest's own folder lets nobody else pass.
        state_dir = Path(open_to_all)
        state_dir.chmod(0o755)
        make_box(state_dir)
        group = state_dir.group()
        for folder in (requests_of(state_dir) / "tmp", requests_of(state_dir)):
            if os.geteuid() == 0:
                os.chown(folder, -1, NOBODYS_GROUP)
                group = str(NOBODYS_GROUP)
            folder.chmod(0o555)
        said = subprocess.run(
            [sys.executable, "-c", script, str(state_dir)], capture_output=True, text=True, check=False
        )
    assert said.returncode == AccessError.exit_code == 77, said.stderr
    assert f"members of the group {group} may" in said.stdout
    assert f"sudo usermod -aG {group} $USER" in said.stdout


def test_without_a_daemon_nobody_waits(tmp_path: Path) -> None:
    with pytest.raises(UnavailableError, match="no daemon is running"):
        wait_for_answer(tmp_path, "x", 3600.0, sleep=never)


def test_a_daemon_that_ended_on_purpose_is_none(tmp_path: Path) -> None:
    write_status(tmp_path, status_of(*Ticks().tick(), running=False))
    with pytest.raises(UnavailableError):
        wait_for_answer(tmp_path, "x", 3600.0, sleep=never)


def test_a_status_half_a_minute_old_is_no_daemon(tmp_path: Path) -> None:
    write_status(tmp_path, status_of(*Ticks().tick()))
    written_s = (tmp_path / STATUS).stat().st_mtime
    os.utime(tmp_path / STATUS, (written_s - 31.0, written_s - 31.0))
    with pytest.raises(UnavailableError):
        wait_for_answer(tmp_path, "x", 3600.0, sleep=never)


def test_a_daemon_that_does_not_answer_in_time_is_tried_again_later(tmp_path: Path) -> None:
    write_status(tmp_path, status_of(*Ticks().tick()))
    slept: list[float] = []
    with pytest.raises(TryAgainError, match="has not answered within 1 s"):
        wait_for_answer(tmp_path, "x", 1.0, sleep=slept.append, clock=lambda: sum(slept))
    assert 1.0 <= sum(slept) < 1.2


def never(seconds: float) -> None:
    raise AssertionError(f"nobody had to wait {seconds} s")


def test_this_boot_is_the_kernels() -> None:
    name, boottime_s = this_boot()
    assert name == Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    assert abs(boottime_s - float(Path("/proc/uptime").read_text().split()[0])) < 1.0


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


def a_folder(path: Path) -> None:
    (path / "in it").mkdir(parents=True)


def a_link_to_nowhere(path: Path) -> None:
    path.symlink_to("/nowhere/at/all")


def a_link_to_an_endless_device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def a_sparse_file_of_a_terabyte(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(10**12)


def lists_in_each_other(path: Path) -> None:
    path.write_bytes(b"[" * 100_000)


@pytest.mark.parametrize(
    "lay",
    [
        a_pipe,
        a_folder,
        a_link_to_nowhere,
        a_link_to_an_endless_device,
        a_sparse_file_of_a_terabyte,
        lists_in_each_other,
    ],
)
def test_nothing_that_anybody_lays_into_the_box_keeps_it_from_serving_the_others(
    tmp_path: Path, lay: Callable[[Path], None]
) -> None:
    box = box_of(tmp_path)
    for name in ("bad-1.json", "bad-2.json", "bad-2"):
        lay(requests_of(tmp_path) / "new" / name)
    lay(requests_of(tmp_path) / "damaged" / "bad-2.json")
    type_in(tmp_path, PH)
    assert box.take() == (PH,)
    assert in_box(tmp_path) == ["ph-1.json"]
    assert box.trouble() == ()
    assert answer_to(tmp_path, "bad-1").text.startswith("the request is damaged and was not done; type it again (")
    aside = sorted(path.name for path in (requests_of(tmp_path) / "damaged").iterdir())
    assert aside == ["1-bad-2.json", "bad-1.json", "bad-2", "bad-2.json"]


def test_what_lacks_the_ending_takes_no_request_of_that_name_out_of_the_box(tmp_path: Path) -> None:
    box = box_of(tmp_path)
    type_in(tmp_path, PH)
    whole = (requests_of(tmp_path) / "new" / "ph-1.json").read_bytes()
    (requests_of(tmp_path) / "new" / "ph-1").write_bytes(whole)
    assert box.take() == (PH,)
    assert in_box(tmp_path) == ["ph-1.json"]
    assert not answer_file(tmp_path, "ph-1").exists()


def test_a_box_whose_thread_has_died_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.records.request_box.LOOK_EVERY_S", 0.0)
    monkeypatch.setattr(RequestBox, "_look", lambda _box: None / 0)  # type: ignore[operator]
    monkeypatch.setattr(threading, "excepthook", lambda _told: None)
    box = box_of(tmp_path, threaded=True)
    assert box._thread is not None
    box._thread.join(5.0)
    assert "ended the serving of requests" in box.trouble()[0].text
    box.close()
    assert box.trouble() == ()
