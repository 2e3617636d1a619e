"""The job folder: atomic saves, undo, a single writer, recordings never rewritten."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from roomwright._errors import InputError, JobError
from roomwright.store import create_job, open_job


@pytest.fixture
def folder(tmp_path, small_job):
    with create_job(tmp_path / "cinema", small_job) as opened:
        yield opened


def renamed(job, name):
    return job.model_copy(update={"name": name})


def test_a_saved_job_is_read_back(tmp_path, small_job):
    with create_job(tmp_path / "cinema", small_job) as folder:
        folder.save(renamed(small_job, "second"))
    with open_job(tmp_path / "cinema") as folder:
        assert folder.job.name == "second"


def test_undo_walks_back_save_by_save(folder, small_job):
    for name in ("second", "third"):
        folder.save(renamed(folder.job, name))
    assert folder.undo().name == "second"
    assert folder.undo() == small_job
    with pytest.raises(JobError, match="nothing to undo"):
        folder.undo()


def test_saving_the_same_job_leaves_no_revision(folder):
    folder.save(folder.job)
    with pytest.raises(JobError, match="nothing to undo"):
        folder.undo()


def test_fifty_revisions_are_kept(folder):
    for number in range(60):
        folder.save(renamed(folder.job, f"name {number}"))
    kept = sorted((folder.path / "revisions").glob("*.json"))
    assert len(kept) == 50
    assert folder.undo().name == "name 58"


def test_a_job_with_problems_is_not_saved(folder, small_job):
    with pytest.raises(JobError, match="main seat"):
        folder.save(small_job.model_copy(update={"main_seat": "nowhere"}))
    with open_job(folder.path) as again:
        assert again.job == small_job


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_crash_in_the_middle_of_a_save_leaves_the_last_job_whole(
    folder, small_job, monkeypatch, call
):
    def stop(*_args):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, call, stop)
    with pytest.raises(KeyboardInterrupt):
        folder.save(renamed(small_job, "second"))
    monkeypatch.undo()
    with open_job(folder.path) as again:
        assert again.job == small_job
    assert not list(folder.path.glob(".job.json*"))


def test_a_full_disk_is_one_sentence_and_leaves_the_job(folder, small_job, monkeypatch):
    def full(_handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"cannot write .*\.json: the disk is full"):
        folder.save(renamed(small_job, "second"))
    monkeypatch.undo()
    with open_job(folder.path) as again:
        assert again.job == small_job


def test_a_second_writer_is_refused_a_reader_is_not(folder, small_job):
    refused = pytest.raises(JobError, match="is being changed by another program")
    with refused, open_job(folder.path, write=True):
        pass
    with open_job(folder.path) as reader:
        assert reader.job == small_job
        with pytest.raises(JobError, match="for reading only"):
            reader.save(renamed(small_job, "second"))


def test_a_writer_that_died_leaves_no_lock(tmp_path, small_job):
    path = tmp_path / "cinema"
    with create_job(path, small_job):
        pass
    program = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from roomwright.store import open_job\n"
        "with open_job(Path(sys.argv[1]), write=True):\n"
        "    os._exit(9)\n"
    )
    died = subprocess.run([sys.executable, "-c", program, str(path)], check=False)
    assert died.returncode == 9
    with open_job(path, write=True) as folder:
        assert folder.job == small_job


def test_a_folder_that_is_no_job_is_refused(tmp_path):
    with pytest.raises(JobError, match=r"it has no job\.json"), open_job(tmp_path):
        pass


def test_a_new_job_needs_an_empty_folder(tmp_path, small_job):
    (tmp_path / "photo.jpg").write_bytes(b"x")
    with pytest.raises(InputError, match="is not empty"), create_job(tmp_path, small_job):
        pass


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_a_folder_without_write_permission_is_one_sentence(small_job):
    program = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from roomwright._errors import InputError\n"
        "from roomwright.store import open_job\n"
        "if os.getuid() == 0:  # permissions do not hold for root\n"
        "    os.setuid(65534)\n"
        "try:\n"
        "    with open_job(Path(sys.argv[1]), write=True) as folder:\n"
        "        folder.save(folder.job.model_copy(update={'name': 'second'}))\n"
        "except InputError as error:\n"
        "    print(error)\n"
    )
    with tempfile.TemporaryDirectory() as base:
        path = Path(base) / "cinema"
        with create_job(path, small_job):
            pass
        (path / ".lock").unlink(missing_ok=True)
        Path(base).chmod(0o755)
        path.chmod(0o555)
        try:
            ran = subprocess.run(
                [sys.executable, "-c", program, str(path)],
                check=True,
                capture_output=True,
                text=True,
            )
        finally:
            path.chmod(0o755)
        assert "there is no permission" in ran.stdout
        with open_job(path) as folder:
            assert folder.job == small_job


def test_a_take_is_kept_bit_for_bit_and_never_rewritten(folder):
    first = np.linspace(-1, 1, 480, dtype=np.float32)
    file, sha256 = folder.write_take("survey-M+030-S1", first, 48000)
    second_file, _ = folder.write_take("survey-M+030-S1", -first, 48000)
    assert file == "takes/survey-M+030-S1.wav"
    assert second_file == "takes/survey-M+030-S1-2.wav"
    samples, rate = folder.read_take(file, sha256)
    assert rate == 48000
    np.testing.assert_array_equal(samples, first[np.newaxis])


def test_a_take_changed_afterwards_is_refused(folder):
    file, sha256 = folder.write_take("one", np.ones(10, np.float32), 48000)
    path = folder.path / file
    path.write_bytes(path.read_bytes()[:-1] + b"\0")
    with pytest.raises(InputError, match="was changed after it was recorded"):
        folder.read_take(file, sha256)


@pytest.mark.parametrize("file", ["../outside.wav", "/etc/hostname", "takes/../../x.wav"])
def test_no_path_leaves_the_folder(folder, file):
    with pytest.raises(InputError, match="outside the job folder"):
        folder.read_take(file, "0" * 64)


def test_only_recordings_that_no_job_refers_to_are_discarded(folder):
    file, _ = folder.write_take("one", np.ones(10, np.float32), 48000)
    folder.discard_takes([file])
    assert not (folder.path / file).exists()


def test_a_folder_of_outputs_is_discarded_and_none_outside(folder):
    kept = folder.write_output("settings.csv", "kept")
    gone = folder.write_output("modes/1-late/settings.csv", "gone")
    folder.discard_outputs("modes")
    folder.discard_outputs("modes")
    assert kept.exists()
    assert not gone.exists()
    with pytest.raises(InputError, match="outside the job folder"):
        folder.discard_outputs("../../elsewhere")


def test_the_cache_gives_back_what_was_put_and_damage_is_a_miss(folder):
    folder.cache_put("key", {"a": np.arange(4.0), "words": np.array("text")})
    kept = folder.cache_get("key")
    np.testing.assert_array_equal(kept["a"], np.arange(4.0))
    assert str(kept["words"]) == "text"
    assert folder.cache_get("other") is None
    path = folder.path / ".cache" / "key.npz"
    path.write_bytes(path.read_bytes()[:50])
    assert folder.cache_get("key") is None


def test_earlier_jobs_come_newest_first_with_when_they_were_replaced(folder, small_job):
    for name in ("second", "third"):
        folder.save(renamed(folder.job, name))
    for number in (1, 2):
        path = folder.path / "revisions" / f"{number:06}.json"
        os.utime(path, (1000.0 * number, 1000.0 * number))
    earlier = list(folder.earlier())
    assert [job for _, job in earlier] == [renamed(small_job, "second"), small_job]
    assert [replaced.timestamp() for replaced, _ in earlier] == [2000.0, 1000.0]


def test_an_earlier_job_that_cannot_be_read_is_said(folder):
    folder.save(renamed(folder.job, "second"))
    (folder.path / "revisions" / "000001.json").write_text("{")
    with pytest.raises(JobError, match=r"000001\.json"):
        list(folder.earlier())
