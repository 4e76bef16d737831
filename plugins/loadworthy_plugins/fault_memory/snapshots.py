"""What a freeze frame says: the parameters of the standard in SI, and load as the share of a standard intake stroke.

Source of every formula: open encyclopaedia, two copies; checked against scapy 2.8.0 except where that library is wrong.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy_plugins.fault_memory.answers import LENGTHS
from loadworthy_plugins.fault_memory.codes import spelled

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

#: Density of air to which absolute load refers (kg/m3; definition quoted from ISO 15031-5).
LOAD_DENSITY: Final = 1.184
_ZERO: Final = 273.15


def _word(data: bytes) -> int:
    return data[0] << 8 | data[1]


def _trim(data: bytes) -> float:
    return data[0] / 128.0 - 1.0


#: Parameter -> (name, unit, formula). Temperatures in K, pressures in Pa, trims and loads as shares, angles in degrees.
_FORMULAS: Final[Mapping[int, tuple[str, str, Callable[[bytes], float]]]] = {
    0x04: ("load", "1", lambda d: d[0] / 255.0),
    0x05: ("coolant_temperature", "K", lambda d: d[0] - 40.0 + _ZERO),
    0x06: ("short_trim_bank_1", "1", _trim),
    0x07: ("long_trim_bank_1", "1", _trim),
    0x08: ("short_trim_bank_2", "1", _trim),
    0x09: ("long_trim_bank_2", "1", _trim),
    0x0A: ("fuel_pressure_gauge", "Pa", lambda d: 3e3 * d[0]),
    0x0B: ("manifold_pressure", "Pa", lambda d: 1e3 * d[0]),
    0x0C: ("engine_speed", "rev/s", lambda d: _word(d) / 240.0),
    0x0D: ("vehicle_speed", "m/s", lambda d: d[0] / 3.6),
    0x0E: ("ignition_advance", "deg", lambda d: d[0] / 2.0 - 64.0),
    0x0F: ("intake_temperature", "K", lambda d: d[0] - 40.0 + _ZERO),
    0x10: ("air_flow", "kg/s", lambda d: _word(d) / 1e5),
    0x11: ("throttle", "1", lambda d: d[0] / 255.0),
    0x1F: ("time_since_start", "s", lambda d: float(_word(d))),
    0x22: ("fuel_pressure_above_manifold", "Pa", lambda d: 79.0 * _word(d)),
    0x23: ("rail_pressure_gauge", "Pa", lambda d: 1e4 * _word(d)),
    0x33: ("ambient_pressure", "Pa", lambda d: 1e3 * d[0]),
    0x42: ("supply_voltage", "V", lambda d: _word(d) / 1e3),
    0x43: ("absolute_load", "1", lambda d: _word(d) / 255.0),
    0x44: ("lambda_commanded", "1", lambda d: _word(d) / 32768.0),
    0x46: ("ambient_temperature", "K", lambda d: d[0] - 40.0 + _ZERO),
    0x59: ("rail_pressure", "Pa", lambda d: 1e4 * _word(d)),
    0x5C: ("oil_temperature", "K", lambda d: d[0] - 40.0 + _ZERO),
    0x5E: ("fuel_rate", "m3/s", lambda d: _word(d) / 20.0 * 1e-3 / 3600.0),
    0x61: ("torque_demanded", "1", lambda d: (d[0] - 125) / 100.0),
    0x62: ("torque_actual", "1", lambda d: (d[0] - 125) / 100.0),
    0x63: ("torque_reference", "N m", lambda d: float(_word(d))),
}
_VOLTAGE_SENSORS: Final = range(0x24, 0x2C)
_CURRENT_SENSORS: Final = range(0x34, 0x3C)
#: Values of the first byte of parameter 03.
FUEL_LOOPS: Final = {
    0x01: "open, engine cold",
    0x02: "closed",
    0x04: "open, load",
    0x08: "open, fault",
    0x10: "closed with a fault",
}


def figures(data: Iterable[tuple[int, bytes]]) -> dict[str, tuple[float, str]]:
    """Return name -> (value in SI, unit) of the parameters of a frame; those that have no formula are left out.

    Full scales in parameters 4F and 50 change parameters 0B and 10.

    >>> found = figures(parsed("04 C8, 05 7B, 06 94, 0B C6, 0C 51 40, 0E 8E, 10 3B 60, 42 35 E8")[0])
    >>> round(found["load"][0], 4), round(found["coolant_temperature"][0] - 273.15), found["manifold_pressure"]
    (0.7843, 83, (198000.0, 'Pa'))
    """
    given = dict(data)
    found: dict[str, tuple[float, str]] = {}
    for parameter, content in given.items():
        if parameter in _FORMULAS:
            name, unit, formula = _FORMULAS[parameter]
            found[name] = formula(content), unit
        elif parameter in _VOLTAGE_SENSORS or parameter in _CURRENT_SENSORS:
            found |= _lambda(parameter, content)
    if given.get(0x4F, b"\x00" * 4)[3] and 0x0B in given:
        found["manifold_pressure"] = given[0x0B][0] * 10e3 * given[0x4F][3] / 255.0, "Pa"
    if given.get(0x50, b"\x00")[0] and 0x10 in given:
        found["air_flow"] = _word(given[0x10]) / 65535.0 * 10e-3 * given[0x50][0], "kg/s"
    if "torque_actual" in found and "torque_reference" in found:
        found["torque"] = found["torque_actual"][0] * found["torque_reference"][0], "N m"
    return found


def _lambda(parameter: int, content: bytes) -> dict[str, tuple[float, str]]:
    current = parameter in _CURRENT_SENSORS
    sensor = parameter - (_CURRENT_SENSORS if current else _VOLTAGE_SENSORS).start + 1
    second = _word(content[2:])
    found = {f"lambda_sensor_{sensor}": (_word(content) / 32768.0, "1")}
    if current:
        found[f"sensor_{sensor}_current"] = (second / 256.0 - 128.0) * 1e-3, "A"
    else:
        found[f"sensor_{sensor}_voltage"] = second * 8.0 / 65536.0, "V"
    return found


def fuel_loop(data: Iterable[tuple[int, bytes]]) -> str:
    """Return the state of the fuel system in a frame, empty where it is not given."""
    content = dict(data).get(0x03)
    return FUEL_LOOPS.get(content[0], "") if content else ""


def set_by(data: Iterable[tuple[int, bytes]]) -> str:
    """Return the code that set a frame (parameter 02), empty where there is none."""
    content = dict(data).get(0x02, b"\x00\x00")
    return spelled(content[0], content[1]) if any(content) else ""


def parsed(text: str) -> tuple[tuple[tuple[int, bytes], ...], str]:
    r"""Return the (parameter, bytes) of a frame written by hand, and what could not be read.

    Between commas stand whole parameters, or single bytes all of them: what is wrong with one parameter does not shift
    the others.

    >>> parsed("0C 51 40, 43 01 7A")
    (((12, b'Q@'), (67, b'\x01z')), '')
    >>> parsed("0C 51")[1]
    'parameter 0C has 2 bytes, 1 is given'
    >>> parsed("0C 51, 04 B8")
    (((4, b'\xb8'),), 'parameter 0C has 2 bytes, 1 is given')
    >>> parsed("0C,51,40")
    (((12, b'Q@'),), '')
    """
    found: list[tuple[int, bytes]] = []
    problems = []
    pieces = text.split(",")
    if all(len(piece.strip()) <= 2 for piece in pieces):
        pieces = [" ".join(pieces)]
    for piece in pieces:
        whole, problem = _piece(piece)
        found += whole
        if problem:
            problems.append(problem)
    return tuple(found), "; ".join(problems)


def _piece(text: str) -> tuple[tuple[tuple[int, bytes], ...], str]:
    digits = "".join(text.replace("$", " ").lower().replace("0x", " ").split())
    try:
        data = bytes.fromhex(digits)
    except ValueError:
        return (), f'"{text[:40]}" is not pairs of hexadecimal digits'
    found: list[tuple[int, bytes]] = []
    at = 0
    while at < len(data):
        parameter = data[at]
        length = LENGTHS.get(parameter)
        if length is None:
            return tuple(found), f"parameter {parameter:02X} is not known here, nor what follows it"
        content = data[at + 1 : at + 1 + length]
        if len(content) < length:
            are = "is" if len(content) == 1 else "are"
            return tuple(found), f"parameter {parameter:02X} has {length} bytes, {len(content)} {are} given"
        found.append((parameter, content))
        at += 1 + length
    return tuple(found), ""


def absolute_load(air_flow: float, engine_speed: float, displacement: float) -> float:
    """Return absolute load: air per intake stroke over that of a cylinder filled with air of 1.184 kg/m3.

    Air flow in kg/s, engine speed in rev/s, displacement of all cylinders in m3; four-stroke. Definition quoted from
    ISO 15031-5 in two copies.

    >>> round(100 * absolute_load(0.1520, 5200 / 60, 1.998e-3), 2)
    148.28
    """
    return 2.0 * air_flow / (engine_speed * displacement * LOAD_DENSITY)


def air_flow_at(load: float, engine_speed: float, displacement: float) -> float:
    """Return the air flow (kg/s) at an absolute load: the inverse of `absolute_load`."""
    return load * engine_speed * displacement * LOAD_DENSITY / 2.0
