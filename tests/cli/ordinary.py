"""What is usually written down after a repair, as text of a record: amperes at the rated voltage and at today's mains,
one insulation value, some starts. Invented machines; shapes as small fans have them."""

import copy


def fan(**machine):
    """A healthy wall fan with the handful of things that are usually written down: no ohms, no earth."""
    record = {
        "machine": {
            "id": "GH-52",
            "phases": 1,
            "rated_voltage_V": 110,
            "rated_frequency_Hz": 60,
            "rated_current_A": 0.85,
            "speeds": ["high", "medium", "low"],
            "speed_control": "series_reactor",
            "running_circuit": "permanent_capacitor",
            "winding_kind": "random_wound",
            "appliance_class": "I",
        },
        "visit": {
            "date": "2026-10-12",
            "state": "after_repair",
            "work": ["bearings replaced"],
            "ambient_C": 21,
            "supply_voltage_V": 120,
            "supply_frequency_Hz": 60,
        },
        "run_up": {
            "high": ([110, 120], [0.82, 0.90]),
            "medium": ([110, 120], [0.66, 0.72]),
            "low": ([110, 120], [0.53, 0.57]),
        },
        "insulation": [
            {"circuit": "winding to frame", "test_voltage_V": 500, "time_s": [60], "resistance_Mohm": [410]}
        ],
        "starts": [{"position": "upright", "attempts": 20, "successes": 20}],
        "resistance": [],
        "earth": None,
        "more": "",
    }
    record["machine"].update(machine)
    return record


def complete(record=None):
    """The same with what a release needs besides: winding ohms and earth."""
    out = copy.deepcopy(record or fan())
    out["resistance"] = [{"section": "main", "resistance_ohm": 18.4, "winding_C": 21, "expected_ohm": 18.0}]
    out["earth"] = 0.08
    return out


def changed(record, **sections):
    out = copy.deepcopy(record)
    for name, value in sections.items():
        if isinstance(out.get(name), dict) and isinstance(value, dict):
            out[name].update(value)
            out[name] = {key: each for key, each in out[name].items() if each is not None}
        else:
            out[name] = value
    return out


def written(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(written(each) for each in value) + "]"
    return repr(value)


def pairs(section):
    return "".join(
        f"{key} = {value if key == 'date' else written(value)}\n" for key, value in section.items() if value is not None
    )


def text_of(record):
    out = (
        'format = "rewound-record/1"\n\n[machine]\n' + pairs(record["machine"]) + "\n[visit]\n" + pairs(record["visit"])
    )
    for speed, readings in record["run_up"].items():
        volts, amps, *further = readings
        out += f'\n[[run_up]]\nspeed = "{speed}"\nvoltage_V = {written(volts)}\ncurrent_A = {written(amps)}\n'
        out += pairs(further[0]) if further else ""
    for name in ("insulation", "resistance", "starts"):
        for section in record[name]:
            out += f"\n[[{name}]]\n" + pairs(section)
    if record["earth"] is not None:
        out += f"\n[earth]\ncontinuity_ohm = {written(record['earth'])}\n"
    return out + "\n" + record["more"]
