"""Write the registers of a BME280 into the kernel's i2c-stub, so that the kernel's own driver finds the chip.

Usage: bme280.py BUS TEMP_C RH_PCT. The calibration is the example of Bosch's data sheet (BME280, compensation
formulas) with a humidity part that is nearly a straight line; the raw values are searched so that the formulas of the
data sheet give what is asked for.
"""

import ctypes
import fcntl
import os
import struct
import sys
from collections.abc import Callable

ADDRESS, I2C_SLAVE, I2C_SMBUS, BYTE_DATA = 0x76, 0x0703, 0x0720, 2
I2C_SLAVE_FORCE = 0x0706
T = (27504, 26435, -1000)
P = (36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000)
H = (75, 360, 0, 340, 0, 30)


class Data(ctypes.Union):
    _fields_ = (("byte", ctypes.c_uint8), ("word", ctypes.c_uint16), ("block", ctypes.c_uint8 * 34))


class Arguments(ctypes.Structure):
    _fields_ = (
        ("read_write", ctypes.c_uint8),
        ("command", ctypes.c_uint8),
        ("size", ctypes.c_uint32),
        ("data", ctypes.POINTER(Data)),
    )


def t_fine(raw: int) -> float:
    """Return the data sheet's t_fine (formula in floating point); 5120 of it are a degree."""
    first = (raw / 16384.0 - T[0] / 1024.0) * T[1]
    second = (raw / 131072.0 - T[0] / 8192.0) ** 2 * T[2]
    return first + second


def humidity_pct(raw: int, fine: float) -> float:
    """Return the humidity by the data sheet's formula in floating point."""
    h = fine - 76800.0
    h = (raw - (H[3] * 64.0 + H[4] / 16384.0 * h)) * (
        H[1] / 65536.0 * (1.0 + H[5] / 67108864.0 * h * (1.0 + H[2] / 67108864.0 * h))
    )
    return h * (1.0 - H[0] * h / 524288.0)


def search(function: Callable[[int], float], wanted: float, top: int) -> int:
    """Return the raw value at which a rising function reaches what is wanted."""
    low, high = 0, top
    while low < high:
        middle = (low + high) // 2
        if function(middle) < wanted:
            low = middle + 1
        else:
            high = middle
    return low


def main(bus: str, temp_c: float, rh_pct: float) -> None:
    """Write calibration and measurement."""
    device = os.open(f"/dev/i2c-{bus}", os.O_RDWR)
    fcntl.ioctl(device, I2C_SLAVE_FORCE, ADDRESS)

    def write(register: int, value: int) -> None:
        data = Data()
        data.byte = value
        fcntl.ioctl(device, I2C_SMBUS, Arguments(0, register, BYTE_DATA, ctypes.pointer(data)))

    def block(register: int, values: bytes) -> None:
        for i, value in enumerate(values):
            write(register + i, value)

    write(0xD0, 0x60)
    block(0x88, struct.pack("<Hhh", *T) + struct.pack("<Hhhhhhhhh", *P))
    write(0xA1, H[0])
    packed = bytes([H[2], (H[3] >> 4) & 0xFF, (H[3] & 0xF) | ((H[4] & 0xF) << 4), (H[4] >> 4) & 0xFF, H[5]])
    block(0xE1, struct.pack("<h", H[1]) + packed)
    temp = search(lambda raw: t_fine(raw) / 5120.0, temp_c, 2**20 - 1)
    hum = search(lambda raw: humidity_pct(raw, t_fine(temp)), rh_pct, 2**16 - 1)
    press = 415148
    parts = [press >> 12, press >> 4, (press & 0xF) << 4, temp >> 12, temp >> 4, (temp & 0xF) << 4, hum >> 8, hum]
    block(0xF7, bytes(part & 0xFF for part in parts))
    write(0xF3, 0)


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), float(sys.argv[3]))
