#!/usr/bin/python3
"""A bare WebKitGTK window that its driver can steer and whose profile is kept.

The driver's own small browser keeps nothing between starts. This runs in Debian's Python, which has
the bindings, and takes ``--profile=``, ``--downloads=``, ``--size=390x844`` and ``--no-scripts``.
"""

import sys
from pathlib import Path


def main() -> None:
    """Open the window and run until told to end."""
    import gi

    gi.require_version("Gtk", "3.0")
    gi.require_version("WebKit2", "4.1")
    from gi.repository import GLib, Gtk, WebKit2

    given = dict(word[2:].split("=", 1) if "=" in word else (word[2:], "") for word in sys.argv[1:])
    profile = Path(given["profile"])
    manager = WebKit2.WebsiteDataManager(
        base_data_directory=str(profile / "data"), base_cache_directory=str(profile / "cache")
    )
    context = WebKit2.WebContext.new_with_website_data_manager(manager)
    context.set_automation_allowed(True)
    context.get_cookie_manager().set_persistent_storage(
        str(profile / "cookies.sqlite"), WebKit2.CookiePersistentStorage.SQLITE
    )
    settings = WebKit2.Settings()
    settings.set_enable_write_console_messages_to_stdout(True)
    # The driver's own scripts still run where those of pages do not.
    settings.set_enable_javascript_markup("no-scripts" not in given)
    settings.set_hardware_acceleration_policy(WebKit2.HardwareAccelerationPolicy.NEVER)

    def downloading(_context, download) -> None:
        def place(download, name: str) -> bool:
            download.set_destination((Path(given["downloads"]) / Path(name).name).as_uri())
            return True

        download.connect("decide-destination", place)

    context.connect("download-started", downloading)
    view = WebKit2.WebView(web_context=context, settings=settings, is_controlled_by_automation=True)
    window = Gtk.Window()
    width, height = given.get("size", "390x844").split("x")
    window.set_default_size(int(width), int(height))
    window.set_decorated(False)
    window.add(view)
    window.show_all()

    def started(_context, session) -> None:
        info = WebKit2.ApplicationInfo()
        info.set_name("MiniBrowser")  # the only one that the driver takes
        version = (WebKit2.get_major_version(), WebKit2.get_minor_version())
        info.set_version(*version, WebKit2.get_micro_version())
        session.set_application_info(info)
        session.connect("create-web-view", lambda _session: view)

    context.connect("automation-started", started)
    GLib.unix_signal_add(GLib.PRIORITY_DEFAULT, 15, lambda *_: Gtk.main_quit())
    Gtk.main()


if __name__ == "__main__":
    main()
