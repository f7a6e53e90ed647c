#pragma once
// Random numbers that are the same on every machine and compiler for the same seed: the generator
// is xoshiro256** seeded by splitmix64 (Blackman and Vigna, "Scrambled linear pseudorandom number
// generators", ACM TOMS 47(4), 2021), normals by the polar method. Never seeded from the clock.

#include <cmath>
#include <cstdint>

namespace layproof {

class Random {
public:
    explicit Random(std::uint64_t seed) {
        for (auto& word : state_) {
            seed += 0x9E3779B97F4A7C15ULL;
            std::uint64_t z = seed;
            z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
            z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
            word = z ^ (z >> 31U);
        }
    }

    std::uint64_t bits() {
        const std::uint64_t result = rotate(state_[1] * 5U, 7) * 9U;
        const std::uint64_t t = state_[1] << 17U;
        state_[2] ^= state_[0];
        state_[3] ^= state_[1];
        state_[1] ^= state_[2];
        state_[0] ^= state_[3];
        state_[2] ^= t;
        state_[3] = rotate(state_[3], 45);
        return result;
    }

    /// In [0, 1).
    double uniform() { return static_cast<double>(bits() >> 11U) * 0x1.0p-53; }
    double uniform(double low, double high) { return low + (high - low) * uniform(); }

    /// 0 <= result < count; count > 0.
    int below(int count) { return static_cast<int>(uniform() * count); }

    /// Mean 0, standard deviation 1.
    double normal() {
        if (has_spare_) {
            has_spare_ = false;
            return spare_;
        }
        double u = 0.0;
        double v = 0.0;
        double s = 0.0;
        do {
            u = 2.0 * uniform() - 1.0;
            v = 2.0 * uniform() - 1.0;
            s = u * u + v * v;
        } while (s >= 1.0 || s == 0.0);
        const double factor = std::sqrt(-2.0 * std::log(s) / s);
        spare_ = v * factor;
        has_spare_ = true;
        return u * factor;
    }

private:
    static std::uint64_t rotate(std::uint64_t x, unsigned k) { return (x << k) | (x >> (64U - k)); }

    std::uint64_t state_[4]{};
    double spare_ = 0.0;
    bool has_spare_ = false;
};

}  // namespace layproof
