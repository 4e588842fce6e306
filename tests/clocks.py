"""A clock of the test's own for controls that follow keys."""


class _Call:
    def __init__(self, at_s, call):
        self.at_s, self.call, self.cancelled = at_s, call, False

    def cancel(self):
        self.cancelled = True


class FakeClock:
    """Time stands still until it is moved; work ends when the test says so."""

    def __init__(self):
        self.time_s, self.calls, self.works = 0.0, [], []

    def now_s(self):
        return self.time_s

    def later(self, wait_s, call):
        self.calls.append(_Call(self.time_s + wait_s, call))
        return self.calls[-1]

    def work(self, call, done):
        self.works.append((call, done))

    def move(self, by_s):
        self.time_s += by_s
        due = [c for c in self.calls if c.at_s <= self.time_s + 1e-12]
        self.calls = [c for c in self.calls if c not in due]
        for each in due:
            if not each.cancelled:
                each.call()

    def end_work(self):
        call, done = self.works.pop(0)
        try:
            result = call()
        except Exception as error:  # noqa: BLE001 - handed on, as the real clock does
            done(None, error)
        else:
            done(result, None)
