"""The line, cut into cells, and the limit curve on it (MODEL.md 2 and 10)."""
import math

from car import NO_LIMIT, load


class Track:
    def __init__(self, root, path, step, wind=0.0, wind_from=0.0):
        d = load(root, path)
        self.wind, self.wind_from, self.step = wind, wind_from, step
        self.no_shift = [(x["from_m"], x["to_m"]) for x in d.get("no_shift", []) if "from_m" in x]
        held = {x["corner"] for x in d.get("no_shift", []) if "corner" in x}
        self.pit_v, self.pit_s = d["pit_limit_kmh"] / 3.6, d["pit_exit_m"]
        segs = d["segment"]
        n = len(segs)
        pieces = []  # length, k0, k1, b0, b1, grade0, grade1, grip
        for i, s in enumerate(segs):
            up = s.get("grade_percent", 0.0)
            g0, g1 = math.atan(up / 100), math.atan(s.get("grade_end_percent", up) / 100)
            grip = s.get("grip_ratio", 1.0)
            bank = math.radians(s.get("bank_deg", 0.0))
            if s["kind"] == "straight":
                pieces.append((s["length_m"], 0.0, 0.0, bank, bank, g0, g1, grip))
                continue
            sign = 1.0 if s["direction"] == "left" else -1.0
            r, ang = s["radius_m"], math.radians(s["angle_deg"])
            li, lo = s.get("spiral_in_m", 0.0), s.get("spiral_out_m", 0.0)
            bank *= sign

            def beside(o):
                return math.radians(o.get("bank_deg", 0.0)) if o["kind"] == "straight" else 0.0
            k = sign / r
            arc = r * ang - li / 2 - lo / 2
            bend = (g1 - g0) / (li + arc + lo)  # the grade's angle is linear over the whole segment
            ga, gb = g0 + bend * li, g1 - bend * lo
            if s["name"] in held:
                at = sum(p[0] for p in pieces)
                self.no_shift.append((at, at + li + arc + lo))
            if li > 0:
                pieces.append((li, 0.0, k, beside(segs[i - 1]), bank, g0, ga, grip))
            pieces.append((arc, k, k, bank, bank, ga, gb, grip))
            if lo > 0:
                pieces.append((lo, k, 0.0, bank, beside(segs[(i + 1) % n]), gb, g1, grip))
        self.s, self.ds, self.par = [0.0], [], []
        s0, psi = 0.0, math.radians(d["heading_deg"])
        self.pit_cell = None
        for (l, k0, k1, b0, b1, g0, g1, grip) in pieces:
            cuts = [0.0, l]
            if s0 < self.pit_s < s0 + l:
                cuts = [0.0, self.pit_s - s0, l]
            for c0, c1 in zip(cuts, cuts[1:]):
                if abs(s0 + c0 - self.pit_s) < 1e-9:
                    self.pit_cell = len(self.ds)
                m = max(1, math.ceil((c1 - c0) / step - 1e-9))
                h = (c1 - c0) / m
                dk, db, kv = (k1 - k0) / l, (b1 - b0) / l, (g1 - g0) / l
                for j in range(m):
                    x = c0 + j * h
                    self.par.append((k0 + dk * x, dk, b0 + db * x, db, g0 + kv * x, kv, grip,
                                     psi - k0 * x - dk * x * x / 2))  # (2.2)
                    self.ds.append(h)
                    self.s.append(s0 + x + h)
            s0 += l
            psi -= (k0 + k1) * l / 2
        self.length = s0
        self.n = len(self.ds)

    def place(self, i, x):
        k, dk, b, db, g, kv, grip, psi = self.par[i % self.n]
        b += db * x
        g += kv * x
        w = 0.0
        if self.wind:
            w = self.wind * math.cos(self.wind_from - psi + (k + dk * x / 2) * x)  # (3.1)
        return (k + dk * x, math.sin(b), math.cos(b), math.sin(g), math.cos(g), grip, kv, w)


def rk4(f, u, x, h):
    """One step of du/dx = 2 f(x, u); also the time, by Simpson with the cubic."""
    a = 2 * f(x, u)
    um = u + 0.5 * h * a
    b = 2 * f(x + 0.5 * h, um)
    um = u + 0.5 * h * b
    c = 2 * f(x + 0.5 * h, um)
    ue = u + h * c
    d = 2 * f(x + h, ue)
    u1 = u + h * (a + 2 * b + 2 * c + d) / 6
    mid = 0.5 * (u + u1) + h * (a - d) / 8
    t = h / 6 * (1 / math.sqrt(u) + 4 / math.sqrt(mid) + 1 / math.sqrt(u1))
    return u1, t


class Limit:
    """The limit curve at the nodes 0..n (cyclic), and its clock."""

    def __init__(self, car, tr):
        self.car, self.tr = car, tr
        n = tr.n
        cache = {}

        def vc(i, x):
            p = tr.place(i, x)
            if p not in cache:
                cache[p] = car.corner_limit(p) ** 2
            return cache[p]
        corner = [min(vc(i, 0.0), vc(i - 1, tr.ds[i - 1])) for i in range(n)]
        self.corner = corner
        u = list(corner)
        if min(corner) < NO_LIMIT ** 2:
            start = min(range(n), key=lambda i: corner[i])
            for back in range(n):
                i = (start - 1 - back) % n
                nxt = u[(i + 1) % n]
                if corner[i] <= nxt:
                    continue
                h = tr.ds[i]
                un, _ = rk4(lambda x, w: car.brake(max(w, 0.01), tr.place(i, h - x)), nxt, 0.0, h)
                u[i] = min(corner[i], un)
        self.u = u
        self.least = min(range(n), key=lambda i: u[i])
        self.clock = [0.0]
        for i in range(n):
            self.clock.append(self.clock[-1] + 2 * tr.ds[i] / (math.sqrt(u[i]) + math.sqrt(u[(i + 1) % n])))

    def at(self, i, x):
        """Speed squared inside cell i (absolute index)."""
        n, h = self.tr.n, self.tr.ds[i % self.tr.n]
        a, b = self.u[i % n], self.u[(i + 1) % n]
        return a + (b - a) * x / h

    def time(self, i, x):
        n, h = self.tr.n, self.tr.ds[i % self.tr.n]
        a, b = self.u[i % n], self.u[(i + 1) % n]
        inside = 2 * x / (math.sqrt(a) + math.sqrt(a + (b - a) * x / h)) if x > 0 else 0.0
        return (i // n) * self.clock[n] + self.clock[i % n] + inside
