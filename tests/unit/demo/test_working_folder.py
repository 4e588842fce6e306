"""The working folder of the notebooks: laid out, taken up again, nothing of the user's lost."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from command import run

from buildplan.demo.working import FIRST, FOLDER, RECORD, working_folder
from buildplan.errors import InputError
from buildplan.notebook import open_demo


def test_lays_out_all_notebooks_with_the_demo_build(tmp_path):
    made = working_folder(tmp_path / "mine")
    assert not made.resumed
    assert made.first.is_file()
    assert made.folder.is_absolute()
    assert (made.folder / "build.toml").is_file()
    assert len(list((made.folder / FOLDER).glob("0*.ipynb"))) >= 3


def test_taking_up_again_overwrites_nothing_and_puts_back_what_is_missing(tmp_path):
    folder = working_folder(tmp_path).folder
    mine = folder / FOLDER / FIRST
    mine.write_text("changed by me", "utf-8")
    other = next(p for p in sorted((folder / FOLDER).glob("*.ipynb")) if p != mine)
    whole = other.read_bytes()
    other.unlink()
    (folder / "build.toml").write_text("mine too", "utf-8")
    made = working_folder(folder)
    assert made.resumed
    assert made.added == (other.name,)
    assert made.beside == ()
    assert other.read_bytes() == whole
    assert mine.read_text("utf-8") == "changed by me"
    assert (folder / "build.toml").read_text("utf-8") == "mine too"


def test_a_newer_notebook_is_put_beside_the_users_own_once(tmp_path):
    folder = working_folder(tmp_path).folder
    mine, record = folder / FOLDER / FIRST, folder / FOLDER / RECORD
    newer = mine.read_bytes()
    mine.write_text("an older one, changed by me", "utf-8")
    record.write_text(json.dumps(json.loads(record.read_text()) | {FIRST: "older"}), "utf-8")
    made = working_folder(folder)
    assert made.beside == ("00-start-here.new.ipynb",)
    assert (folder / FOLDER / made.beside[0]).read_bytes() == newer
    assert mine.read_text("utf-8") == "an older one, changed by me"
    assert working_folder(folder).beside == ()


def test_a_file_and_a_folder_of_other_things_are_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", "utf-8")
    with pytest.raises(InputError, match="is a file"):
        working_folder(tmp_path / "letter.txt")
    with pytest.raises(InputError, match="holds other files"):
        working_folder(tmp_path)


def test_a_folder_below_a_file_is_refused(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", "utf-8")
    with pytest.raises(InputError, match=r"letter\.txt"):
        working_folder(tmp_path / "letter.txt" / "deeper")


def test_the_demo_of_the_working_folder_is_opened_and_no_second_one_is_laid_out(
    tmp_path, monkeypatch
):
    folder = working_folder(tmp_path).folder
    monkeypatch.chdir(folder / FOLDER)
    assert open_demo().path.resolve() == (folder / "build.toml").resolve()
    assert not (folder / FOLDER / "sprout_house").exists()


def test_a_folder_that_cannot_be_used_is_refused_in_one_line(tmp_path):
    (tmp_path / "letter.txt").write_text("hello", "utf-8")
    done = run("notebooks", "letter.txt/deeper", "--no-start", cwd=tmp_path)
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "letter.txt" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="stops it as a terminal of Unix does")
@pytest.mark.slow
def test_jupyterlab_starts_on_this_computer_only_and_stops_with_ctrl_c(tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {
        name: str(tmp_path / "own" / name)
        for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_RUNTIME_DIR", "JUPYTER_DATA_DIR")
    } | {"JUPYTER_TOKEN": "for-this-test"}
    code = "from buildplan.cli import main; main()"
    words = ["notebooks", "mine", "--no-browser", "--port", str(port)]
    command = subprocess.Popen(
        [sys.executable, "-c", code, *words],
        cwd=tmp_path,
        env=os.environ | own,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=_heed_ctrl_c,
    )
    try:
        at = f"http://127.0.0.1:{port}/api"
        assert "version" in json.loads(_answer(f"{at}?token=for-this-test", command))
        with pytest.raises(HTTPError, match="403"):
            urlopen(f"{at}/contents", timeout=5)
        assert _listens_at(port) == {"127.0.0.1"}
        os.killpg(command.pid, signal.SIGINT)
        said, complained = command.communicate(timeout=120)
    finally:
        if command.poll() is None:
            os.killpg(command.pid, signal.SIGKILL)
            command.communicate()
    assert command.returncode == 0, complained
    assert "To stop it: Ctrl+C" in said
    assert said.strip().endswith("JupyterLab has stopped.")
    assert "Traceback" not in complained
    assert (tmp_path / "mine" / FOLDER / FIRST).is_file()


def _heed_ctrl_c():
    """A shell's background jobs ignore Ctrl+C, and hand that down to their children."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _answer(address, command):
    end = time.monotonic() + 60
    while time.monotonic() < end:
        assert command.poll() is None, "JupyterLab stopped"
        try:
            with urlopen(address, timeout=5) as found:
                return found.read()
        except OSError:
            time.sleep(0.2)
    return pytest.fail("JupyterLab did not answer within 60 s")


def _listens_at(port):
    """Addresses of this computer, of a local and a public kind, at which a port answers."""
    found = set()
    for address in {"127.0.0.1", *socket.gethostbyname_ex(socket.gethostname())[2]}:
        with socket.socket() as one:
            one.settimeout(2)
            if one.connect_ex((address, port)) == 0:
                found.add(address)
    return found
