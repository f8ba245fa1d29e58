"""Too loud or not, with hysteresis."""

from assistant.devices.ears.noise_watch import LOUD_AFTER_S, QUIET_AFTER_S, WINDOW_S, NoiseWatch

BLOCK_S = 0.03


def _feed(watch: NoiseWatch, level_db: float, seconds: float, start_s: float) -> list[bool]:
    """What it tells while the level stays as it is."""
    told = []
    for block in range(round(seconds / BLOCK_S)):
        news = watch.feed(level_db, start_s + block * BLOCK_S)
        if news is not None:
            told.append(news)
    return told


def test_a_quiet_room_says_nothing() -> None:
    assert _feed(NoiseWatch(), -60.0, 60, 0) == []


def test_loud_is_said_once_and_quiet_once() -> None:
    watch = NoiseWatch()
    assert _feed(watch, -25.0, 30, 0) == [True]
    assert _feed(watch, -60.0, 30, 30) == [False]
    assert _feed(watch, -60.0, 30, 60) == []


def test_a_short_noise_says_nothing() -> None:
    watch = NoiseWatch()
    _feed(watch, -60.0, 20, 0)
    assert _feed(watch, -20.0, LOUD_AFTER_S, 20) == []
    assert _feed(watch, -60.0, 20, 20 + LOUD_AFTER_S) == []


def test_calls_over_the_noise_are_not_noise() -> None:
    watch = NoiseWatch()
    told = []
    for second in range(60):
        level = -20.0 if second % 4 == 0 else -60.0
        told += _feed(watch, level, 1, second)
    assert told == []


def test_between_the_limits_nothing_changes() -> None:
    watch = NoiseWatch()
    assert _feed(watch, -30.0, 20, 0) == [True]
    # Two dB better than the limit is not enough to say that it is better.
    assert _feed(watch, -38.0, 60, 20) == []
    assert _feed(watch, -42.0, WINDOW_S + QUIET_AFTER_S + 1, 80) == [False]


def test_a_loud_voice_stands_more_noise() -> None:
    close = NoiseWatch()
    _feed(close, -60.0, 10, 0)
    close.spoke(50.0)
    assert close.expected_snr_db == 50.0
    assert _feed(close, -30.0, 30, 10) == []


def _spoken_over(watch: NoiseWatch, room_db: float, seconds: float, start_s: float) -> bool | None:
    """What it tells of a prompt in words of a second at -20 dB, pauses of a fifth between."""
    levels = []
    for block in range(round(seconds / BLOCK_S)):
        at = block * BLOCK_S
        levels.append((start_s + at, room_db if at % 1.2 > 1.0 else max(room_db, -20.0)))
    return watch.under_voice(levels)


def test_a_motor_is_noticed_under_our_own_voice() -> None:
    watch = NoiseWatch()
    assert _feed(watch, -60.0, 20, 0) == []
    assert _spoken_over(watch, -25.0, 9.0, 20) is True
    assert _feed(watch, -25.0, 20, 29) == []


def test_our_own_voice_is_no_noise() -> None:
    watch = NoiseWatch()
    _feed(watch, -60.0, 20, 0)
    assert _spoken_over(watch, -60.0, 30.0, 20) is None
    assert watch.noise_db == -60.0
    assert _feed(watch, -60.0, 20, 50) == []


def test_the_voice_is_not_raised_over_its_own_echo() -> None:
    watch = NoiseWatch()
    _feed(watch, -60.0, 20, 0)
    _spoken_over(watch, -45.0, 30.0, 20)
    assert watch.noise_db == -60.0


def test_a_tone_tells_nothing_of_the_room() -> None:
    watch = NoiseWatch()
    _feed(watch, -60.0, 20, 0)
    told = [watch.under_voice([(20 + n + k * BLOCK_S, -20.0) for k in range(8)]) for n in range(20)]
    assert told == [None] * 20
