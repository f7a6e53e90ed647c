#pragma once
// Finds room for labels on a drawing: greedy, in the order asked, eight sides at growing distance.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace layproof::drawing {

struct Box {
    double left = 0.0;
    double top = 0.0;
    double right = 0.0;
    double bottom = 0.0;

    bool overlaps(const Box& other) const {
        return left < other.right && other.left < right && top < other.bottom && other.top < bottom;
    }
};

/// Width of a text in pixels, from rounded widths of a common sans-serif face; errs on the wide
/// side by some 5 %.
double text_width(std::string_view text, double size_px, bool bold = false);

/// Breaks a text at blanks so that no line is wider than `width_px`; a longer word is broken
/// inside.
std::vector<std::string> wrap_text(std::string_view text, double size_px, double width_px,
                                   bool bold = false);

struct PlacedLabel {
    Box box;
    bool needs_leader = false;  ///< stands away from what it names
};

/// What a label would cover, from harmless to worst. Only nothing is good; when there is no room
/// the least sum wins.
enum class Cover : int { line = 1, symbol = 3, label = 20 };

/// What a label belongs to.
struct Anchor {
    double x = 0.0;
    double y = 0.0;
    double radius = 0.0;  ///< of the symbol
    int owner = -1;       ///< its own box is no obstacle
};

class LabelLayout {
public:
    explicit LabelLayout(const Box& frame) : frame_(frame) {}

    void block(const Box& box, Cover cover, int owner = -1);
    /// The same along a line, as a chain of small boxes.
    void block_line(double x1, double y1, double x2, double y2, double half_width);

    /// A free box of the given size beside the symbol, inside the frame. The first of `steps`
    /// distances touches the symbol; further ones need a leader, which must be free too. Nothing
    /// when all are taken; the found box is blocked.
    std::optional<PlacedLabel> place(const Anchor& anchor, double width, double height, int steps);

    /// As place, and when nothing is free the candidate that covers the least.
    PlacedLabel place_anyway(const Anchor& anchor, double width, double height, int steps);

private:
    struct Blocked {
        Box box;
        Cover cover;
        int owner;
    };

    int covered(const Box& box, int owner, Cover least = Cover::line) const;
    bool leader_is_free(const Anchor& anchor, const Box& box) const;
    bool in_frame(const Box& box) const;

    Box frame_;
    std::vector<Blocked> boxes_;
    std::unordered_map<std::int64_t, std::vector<std::uint32_t>> cells_;
};

}  // namespace layproof::drawing
