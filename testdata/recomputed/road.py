"""The line, cut into cells, and the limit curve on it (MODEL.md 2 and 10)."""
import math

from car import NO_LIMIT, load


class Track:
    def __init__(self, root, name, step):
        d = load(root, "tracks/circuits", name + ".toml")
        self.name = name
        self.pit_v, self.pit_s = d["pit_limit_kmh"] / 3.6, d["pit_exit_m"]
        segs = d["segment"]
        n = len(segs)
        pieces = []  # length, k0, k1, b0, b1, grade, grip, corner name
        for i, s in enumerate(segs):
            grade = math.atan(s.get("grade_percent", 0.0) / 100)
            grip = s.get("grip_ratio", 1.0)
            bank = math.radians(s.get("bank_deg", 0.0))
            if s["kind"] == "straight":
                pieces.append((s["length_m"], 0.0, 0.0, bank, bank, grade, grip, None))
                continue
            sign = 1.0 if s["direction"] == "left" else -1.0
            r, ang = s["radius_m"], math.radians(s["angle_deg"])
            li, lo = s.get("spiral_in_m", 0.0), s.get("spiral_out_m", 0.0)
            bank *= sign

            def beside(o):
                return math.radians(o.get("bank_deg", 0.0)) if o["kind"] == "straight" else 0.0
            k = sign / r
            if li > 0:
                pieces.append((li, 0.0, k, beside(segs[i - 1]), bank, grade, grip, s["name"]))
            pieces.append((r * ang - li / 2 - lo / 2, k, k, bank, bank, grade, grip, s["name"]))
            if lo > 0:
                pieces.append((lo, k, 0.0, bank, beside(segs[(i + 1) % n]), grade, grip, s["name"]))
        noshift = set(x["corner"] for x in d.get("no_shift", []))
        self.s, self.ds, self.par, self.noshift, self.corner = [0.0], [], [], [], []
        s0 = 0.0
        self.pit_cell = None
        for (l, k0, k1, b0, b1, grade, grip, name) in pieces:
            cuts = [0.0, l]
            if s0 < self.pit_s < s0 + l:
                cuts = [0.0, self.pit_s - s0, l]
            for c0, c1 in zip(cuts, cuts[1:]):
                if abs(s0 + c0 - self.pit_s) < 1e-9:
                    self.pit_cell = len(self.ds)
                m = max(1, math.ceil((c1 - c0) / step - 1e-9))
                h = (c1 - c0) / m
                for j in range(m):
                    xa, xb = (c0 + j * h) / l, (c0 + (j + 1) * h) / l
                    self.par.append((k0 + (k1 - k0) * xa, (k1 - k0) * (xb - xa) / h,
                                     b0 + (b1 - b0) * xa, (b1 - b0) * (xb - xa) / h,
                                     math.sin(grade), math.cos(grade), grip))
                    self.ds.append(h)
                    self.s.append(s0 + c0 + (j + 1) * h)
                    self.noshift.append(name in noshift)
                    self.corner.append(name)
            s0 += l
        self.length = s0
        self.n = len(self.ds)

    def place(self, i, x):
        k, dk, b, db, sg, cg, grip = self.par[i % self.n]
        b += db * x
        return (k + dk * x, math.sin(b), math.cos(b), sg, cg, grip)


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
        self.free = min(corner) >= NO_LIMIT ** 2
        u = list(corner)
        if not self.free:
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
