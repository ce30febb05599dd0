#!/bin/sh
# Installs Hangroom on this machine, or brings an installed one up to this folder's state (an upgrade).
# Typed in a clone of the repository: sudo sh systemd/install.sh
# It touches no batch, no chamber file that is there already, and switches no relay. What it puts where is listed in the
# README, chapter "Install on the Pi"; systemd/remove.sh takes it all away again.
set -eu
cd "$(dirname "$0")/.."

if [ "$(id -u)" -ne 0 ]; then
    echo "install.sh: it puts files into /opt and /etc, so it needs sudo: sudo sh systemd/install.sh" >&2
    exit 77
fi

# The program, in a virtual environment of its own: nothing of the system's Python is changed.
[ -x /opt/hangroom/bin/pip ] || python3 -m venv /opt/hangroom
/opt/hangroom/bin/pip install .
ln -sf /opt/hangroom/bin/hangroom /usr/local/bin/hangroom

# The daemon's own user, and the group gpio with the rule that lets it open the GPIO chips.
install -D -m 644 systemd/hangroom.sysusers.conf /etc/sysusers.d/hangroom.conf
systemd-sysusers /etc/sysusers.d/hangroom.conf
install -D -m 644 systemd/60-hangroom-gpio.rules /etc/udev/rules.d/60-hangroom-gpio.rules
udevadm control --reload
udevadm trigger --subsystem-match=gpio

# The service, the forecasts' timer, and the machine's own watchdog (which is armed by the next start of the machine).
install -m 644 systemd/hangroom.service systemd/hangroom-forecast.service systemd/hangroom-forecast.timer \
    /etc/systemd/system/
install -D -m 644 systemd/hangroom-watchdog.conf /etc/systemd/system.conf.d/60-hangroom-watchdog.conf
systemctl daemon-reload

# A chamber file to begin with, unless there is one. Heat is refused until it names the day of your cut-out's test.
if [ ! -e /etc/hangroom/chamber.toml ]; then
    install -D -m 644 profiles/chambers/insulated-box.toml /etc/hangroom/chamber.toml
fi

# Whoever typed sudo may read the batches and give orders.
if [ -n "${SUDO_USER:-}" ] && [ "$SUDO_USER" != root ]; then
    usermod -aG hangroom "$SUDO_USER"
fi

# An upgrade: the running program is replaced. Its heat is off meanwhile, and waits for three good readings and 30 s.
if systemctl --quiet is-active hangroom.service; then
    systemctl restart hangroom.service
    echo "Hangroom was restarted with the new version; hangroom status shows it."
else
    echo "Hangroom is installed; it is not running."
fi
