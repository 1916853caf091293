"""A record whose every text is hostile: markup, quotes, control characters, turned directions of writing, great
length."""

import json

MARKUP = """</title></svg></style><script>window.ran = 1</script><img src=x onerror="window.ran = 1">"""
TEXTS = {
    "markup": MARKUP,
    "quotes": """" onload="window.ran = 1" ' onfocus='window.ran = 1' autofocus x=\"""",
    "entities": "&lt;b&gt; &amp; &#60;script&#62; &copy",
    "control characters": "bell\x07 escape\x1b[31m null\x00 delete\x7f next\x85 return\r tab\t line\n end",
    "turned": "left \u202eright \u2067isolated \u200f\u2028 not ended",
    "closed too often": "\u2069\u202c\u2069</bdi></bdi> after",
    "nearly as many letters as a name may have": "w" * 390,
    "as many words": "word " * 77 + "words",
    "addresses": "javascript:window.ran=1 http://elsewhere.invalid/a.png url(http://elsewhere.invalid/b.png)",
}


def quoted(text):
    """A TOML basic string: JSON's escapes are among TOML's, but for DEL, which TOML wants escaped too."""
    return json.dumps(text).replace("\x7f", "\\u007f")


def hostile_record(text, payload):
    """The record with its texts replaced by the payload, numbered where two would be the same."""
    numbered = (f"{payload}{number}" for number in range(1, 100))
    names = [
        "GH-03",
        "palm house, circulating fan 3",
        "stator rewound",
        "cord replaced",
        "bench ammeter 1",
        "bench voltmeter 1",
        "winding to frame",
        "main",
        "start",
        "upright",
        "tilted",
        "high",
        "medium",
        "low",
    ]
    for name in names:
        assert f'"{name}"' in text, name
        text = text.replace(f'"{name}"', quoted(next(numbered)))
    assert "polarity_correct" in text
    return text.replace("polarity_correct", quoted(next(numbered)))
