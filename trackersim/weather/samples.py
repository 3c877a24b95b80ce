"""The weather files that come with the program."""

from __future__ import annotations

from pathlib import Path

from trackersim.errors import InputError

# name -> file
SAMPLES: dict[str, str] = {
    "typical-year": "typical-year.csv",
    "clear-spring-day": "clear-spring-day.csv",
    "broken-cloud-day": "broken-cloud-day.csv",
}
PREFIX = "sample:"


def sample_folder() -> Path:
    """Where the samples lie: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / "weather_samples"
    return inside if inside.is_dir() else package.parent / "weather_samples"


def sample_path(name: str) -> Path:
    """The file of the sample `name`, with or without "sample:" before it. `InputError` for an unknown name."""
    key = name.strip().removeprefix(PREFIX).strip()
    known = ", ".join(PREFIX + each for each in SAMPLES)
    if key not in SAMPLES:
        raise InputError.of("weather.file", name, "is not a bundled sample.", f"Choose one of {known}.")
    path = sample_folder() / SAMPLES[key]
    if not path.is_file():
        raise InputError.of(
            "weather.file",
            name,
            f"is a bundled sample, but {path} is missing from this installation.",
            "Install the program again, or use clear_sky = true.",
        )
    return path
