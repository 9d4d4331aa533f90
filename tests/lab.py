"""JupyterLab on a copy of the notebooks, in headless Chromium: for browser tests and bench."""

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

ROOT = Path(__file__).parent.parent
_CHROMIUM = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def needs_browser():
    """Return the marks of a module of browser tests: skipped where there is no browser."""
    import pytest

    reason = why_not()
    required = os.environ.get("ENGINECALC_BROWSER") == "required"
    skipped = pytest.mark.skipif(bool(reason) and not required, reason=f"no browser test: {reason}")
    return [pytest.mark.browser, skipped]


def chromium():
    """Return the path of the system's Chromium, or None."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


def why_not():
    """Return why no browser test can run here, or "" when it can."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "playwright is not installed (the extra `browser`)"
    return "" if chromium() else "there is no chromium on this machine"


@contextlib.contextmanager
def lab(folder, notebooks=ROOT / "notebooks"):
    """Serve copies of the notebooks and of the data from `folder`; yield the address."""
    work = Path(folder)
    shutil.copytree(notebooks, work / "notebooks", dirs_exist_ok=True)
    shutil.copytree(ROOT / "data", work / "data", dirs_exist_ok=True)
    settings = work / "settings" / "@jupyterlab" / "apputils-extension"
    settings.mkdir(parents=True, exist_ok=True)
    (settings / "notification.jupyterlab-settings").write_text(
        '{"fetchNews": "false", "checkForUpdates": false}'
    )
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    options = {
        "ServerApp.root_dir": work / "notebooks",
        "ServerApp.port": port,
        "ServerApp.port_retries": 0,
        "IdentityProvider.token": "",
        "ServerApp.open_browser": False,
        "ServerApp.allow_root": True,
        "LabApp.user_settings_dir": work / "settings",
        "LabApp.workspaces_dir": work / "workspaces",
        "LabApp.expose_app_in_browser": True,
    }
    command = [sys.executable, "-m", "jupyter", "lab"]
    command += [f"--{name}={value}" for name, value in options.items()]
    environment = {
        **os.environ,
        "ENGINECALC_DATA": str(work / "data"),
        "JUPYTER_PREFER_ENV_PATH": "1",
    }
    with (work / "lab.log").open("w") as log:
        server = subprocess.Popen(command, stdout=log, stderr=log, env=environment, cwd=work)
        try:
            address = f"http://127.0.0.1:{port}"
            _wait_until_up(address, server, work / "lab.log")
            yield address
        finally:
            server.terminate()
            server.wait(timeout=20)


def _wait_until_up(address, server, log):
    for _ in range(240):
        if server.poll() is not None:
            raise RuntimeError(f"JupyterLab ended early:\n{log.read_text()[-2000:]}")
        try:
            with urllib.request.urlopen(f"{address}/api", timeout=2):
                return
        except OSError:
            time.sleep(0.25)
    raise RuntimeError(f"JupyterLab did not come up:\n{log.read_text()[-2000:]}")


@contextlib.contextmanager
def page(width=1280, height=900):
    """Yield a page of a fresh Chromium; a script error on it fails when the page is closed."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium(), args=_CHROMIUM)
        opened = browser.new_page(viewport={"width": width, "height": height})
        errors = []
        opened.on("pageerror", lambda error: errors.append(error))
        yield opened
        browser.close()
    if errors:
        raise AssertionError(f"the page reported {errors}")


def open_and_run(opened, address, notebook):
    """Open a notebook in JupyterLab, wait for its kernel, run all its cells."""
    name = f"{Path(notebook).stem}-{time.monotonic_ns()}"
    opened.goto(f"{address}/lab/workspaces/{name}/tree/{notebook}?reset", timeout=90_000)
    opened.wait_for_function("() => window.jupyterapp !== undefined", timeout=60_000)
    opened.get_by_text("| Idle").first.wait_for(timeout=90_000)
    opened.evaluate("() => window.jupyterapp.commands.execute('application:set-mode',"
                    " {mode: 'single-document'})")  # fmt: skip
    opened.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    opened.wait_for_function(
        """() => {
            const cells = window.jupyterapp.shell.currentWidget.content.widgets;
            const code = cells.filter(cell => cell.model.type === 'code');
            return code.length && code.every(cell => cell.model.executionCount);
        }""",
        timeout=90_000,
    )
