"""The built harness as ctypes sees it: every function of it with its types."""

from __future__ import annotations

import ctypes
import functools

U64, INT, DOUBLE, PTR = ctypes.c_uint64, ctypes.c_int, ctypes.c_double, ctypes.c_void_p
_SIGNATURES = {
    "chip_new": (PTR, [ctypes.c_char_p]),
    "chip_free": (None, [PTR]),
    "chip_run_until": (INT, [PTR, U64, INT]),
    "chip_write_at": (None, [PTR, U64, ctypes.c_char_p, INT]),
    "chip_read": (INT, [PTR, ctypes.c_char_p, INT]),
    "chip_host_baud": (None, [PTR, DOUBLE]),
    "chip_pin_c": (None, [PTR, INT, INT]),
    "chip_get": (U64, [PTR, INT]),
    "chip_vector": (None, [PTR, INT, ctypes.POINTER(U64)]),
    "chip_peek": (ctypes.c_uint8, [PTR, INT]),
    "chip_eeprom": (None, [PTR, INT, ctypes.c_char_p, INT, INT]),
    "chip_reset": (None, [PTR, INT, U64]),
    "chip_place_program": (None, [PTR, ctypes.c_uint32, ctypes.c_char_p, INT, INT]),
    "chip_hang": (None, [PTR, INT]),
    "chip_in_main": (INT, [PTR]),
    "guide_place": (ctypes.c_int64, [PTR]),
    "guide_figure": (U64, [PTR, INT]),
    "guide_trace": (U64, [PTR, PTR, U64, INT]),
    "spindle_build": (None, [PTR, INT] + [DOUBLE] * 6),
    "spindle_force": (None, [PTR, DOUBLE, ctypes.c_int64]),
    "spindle_let_go": (None, [PTR]),
    "spindle_jam": (None, [PTR, DOUBLE]),
    "spindle_disobey": (None, [PTR, INT, INT]),
    "spindle_character": (None, [PTR] + [DOUBLE] * 3),
    "spindle_peak": (DOUBLE, [PTR]),
    "sensor_lose": (None, [PTR, INT, INT]),
    "sensor_exchange": (None, [PTR, INT]),
    "sensor_bend": (None, [PTR, ctypes.POINTER(DOUBLE), INT]),
    "sensor_bounce": (None, [PTR, INT, U64, INT, INT]),
    "sensor_disturb": (None, [PTR, INT, U64, U64, U64, INT, INT]),
    "sensor_seed": (None, [PTR, ctypes.c_uint32]),
    "watch_figure": (U64, [PTR, INT]),
    "watch_wiring": (None, [PTR] + [INT] * 4),
    "spindle_speed": (DOUBLE, [PTR]),
    "spindle_place": (DOUBLE, [PTR]),
    "spindle_place_now": (DOUBLE, [PTR]),
}


@functools.cache
def load(path: str) -> ctypes.CDLL:
    library = ctypes.CDLL(path)
    for name, (result, arguments) in _SIGNATURES.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library
