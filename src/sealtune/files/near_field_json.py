"""What the microphone tells, as plain data for the machine-readable result."""

from __future__ import annotations

from sealtune.files.json_text import number
from sealtune.records.near_field import AcousticSum, NearField, NearFieldPair


def near_field_json(near: NearField) -> dict[str, object]:
    """Return the near field as plain data: all keys always there, numbers finite or None."""
    tuning, sound, way = near.tuning_hz, near.sound, near.polarity
    return {
        "polarity": None if way is None else way.word,
        "polarity_sureness": number(None if way is None else way.sureness),
        "tuning": {
            "hz": number(None if tuning is None else tuning.value),
            "low_hz": number(None if tuning is None else tuning.low),
            "high_hz": number(None if tuning is None else tuning.high),
            "agrees": near.agrees,
            "cone_minimum_hz": number(near.null_hz),
        },
        "crosstalk": number(near.crosstalk),
        "mouth_excess_db": number(near.mouth_excess_db),
        "sum": None if sound is None else _sum(sound),
        "missing": [
            {
                "hz": number(one.hz),
                "difference_db": number(one.difference_db),
                "explained_db": {name: number(share) for name, share in one.shares},
                "open_db": number(one.open_db),
            }
            for one in near.missing
        ],
        "noises": [
            {
                "kind": noise.kind,
                "role": noise.role,
                "low_hz": number(noise.low_hz),
                "high_hz": number(noise.high_hz),
                "share_percent": number(noise.share, 100.0),
                "level_dbfs": number(noise.level_dbfs),
            }
            for noise in near.noises
        ],
        "not_searched": list(near.not_searched),
        "other_levels": [
            {
                "role": other.role,
                "file": other.file,
                "level_db": number(other.level_db),
                "noises": [noise.kind for noise in other.noises],
            }
            for other in near.other_levels
        ],
        "distortion_percent": {role: number(share, 100.0) for role, share in near.distortion},
        "noise_percent": {
            reading.role: number(reading.noise, 100.0)
            for reading in (near.cone, near.mouth)
            if reading is not None
        },
        "coherence": {
            reading.role: number(reading.bass_coherence)
            for reading in (near.cone, near.mouth)
            if reading is not None
        },
        "microphone_corrected": near.calibrated,
        "notes": list(near.notes),
    }


def _sum(sound: AcousticSum) -> dict[str, object]:
    bands = sound.bands
    return {
        "limit_hz": number(sound.limit_hz),
        "crosstalk_removed": sound.by_model,
        "bands_hz": [number(band.hz) for band in bands],
        "level_db": [number(band.level_db) for band in bands],
        "designed_db": [number(band.designed_db) for band in bands],
        "difference_db": [number(band.difference_db) for band in bands],
    }


def near_field_pair_json(pair: NearFieldPair) -> dict[str, object]:
    """Return how two cabinets differ by the microphone, as plain data; left less right."""
    return {
        "polarity": pair.polarity,
        "bands": [
            {"hz": number(hz), "difference_db": number(difference), "within_db": number(pair.within_db)}
            for hz, difference in pair.bands
        ],
        "apart_db": number(pair.apart_db),
        "tuning_percent": number(pair.tuning_percent),
        "tuning_within_percent": number(pair.within_percent),
        "words": list(pair.words),
    }
