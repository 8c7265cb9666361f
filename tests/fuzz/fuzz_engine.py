"""One target under a coverage-guided search: atheris (libFuzzer) keeps what reaches new code.

Run by ``python -m tests.fuzz`` in a process of its own, since libFuzzer ends its process.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import sys
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

INSTRUMENTED = ["flowunc", "tomllib"]
LARGEST = 20_000  # bytes of one input: more is a matter of the tests of size
HANGS = 3_600  # seconds: libFuzzer counts those in which the process had to wait, `judge` does not


def search(target: str, corpus: Path, findings: Path, seconds: int, seed: int) -> None:
    """Search until the time is over; what goes wrong is kept, and the search goes on."""
    import atheris

    with atheris.instrument_imports(include=INSTRUMENTED):
        import fuzz_targets
        import fuzz_words

        # modules that load when they are first used are to be instrumented as well
        sound = fuzz_words.seeds(target)
        for data in sound:
            fuzz_targets.judge(target, data)
    from fuzz_mutations import mutation

    words = fuzz_words.words(target)
    own = mutation(target, words)
    seen: set[str] = set()

    def one(data: bytes) -> None:
        try:
            fuzz_targets.judge(target, data)
        except Exception as error:
            keep(data, error)

    def keep(data: bytes, error: Exception) -> None:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{type(error).__name__} {frame.filename} {frame.lineno}"
        if place in seen:
            return
        seen.add(place)
        name = f"{target}-{hashlib.sha1(place.encode()).hexdigest()[:8]}"
        (findings / name).write_bytes(data)
        (findings / f"{name}.txt").write_text("".join(traceback.format_exception(error)))
        print(f"FOUND {name}: {type(error).__name__}: {str(error)[:200]!r}", flush=True)

    def mutate(data: bytes, size: int, seed: int) -> bytes:
        if random.Random(seed).random() < 0.3:
            return bytes(atheris.Mutate(data, size))
        return own(data, size, seed)

    for place, data in enumerate(sound):
        (corpus / f"seed-{place}").write_bytes(data)
    options = [
        str(corpus),
        f"-max_total_time={seconds}",
        f"-seed={seed + 1}",  # 0 would be the time
        f"-max_len={LARGEST}",
        f"-timeout={HANGS}",
        f"-report_slow_units={HANGS}",
        f"-artifact_prefix={findings}/{target}-",
        "-mutate_depth=2",  # each change is several already, and few leave an input sound
        "-rss_limit_mb=1500",
        "-print_final_stats=1",
        "-verbosity=1",
    ]
    atheris.Setup([sys.argv[0], *options], one, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("target")
    parser.add_argument("corpus", type=Path)
    parser.add_argument("findings", type=Path)
    parser.add_argument("seconds", type=int)
    parser.add_argument("seed", type=int)
    try:
        search(**vars(parser.parse_args()))
    except Exception:
        traceback.print_exc()
        sys.stderr.flush()
        os._exit(1)  # an ordinary end waits for ever in the destructors of atheris
