#include "cli/readable.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <sstream>
#include <vector>

namespace layproof::testing {
namespace {

using OrderedJson = nlohmann::ordered_json;

constexpr std::size_t kWidth = 110;

std::string spaced(const OrderedJson& value) {
    if (!value.is_structured()) return value.dump();
    std::string out;
    for (const auto& item : value.items()) {
        out += out.empty() ? "" : ", ";
        if (value.is_object()) out += OrderedJson(item.key()).dump() + ": ";
        out += spaced(item.value());
    }
    return value.is_object() ? "{" + out + "}" : "[" + out + "]";
}

void append(const OrderedJson& value, const std::string& before, const std::string& after,
            std::string& out) {
    const std::string line = before + spaced(value) + after;
    if (line.size() <= kWidth || !value.is_structured()) {
        out += line + "\n";
        return;
    }
    const std::size_t indent = before.find_first_not_of(' ');
    const std::string margin(indent == std::string::npos ? before.size() : indent, ' ');
    const bool is_row =
        value.is_array() &&
        std::none_of(value.begin(), value.end(), [](const auto& v) { return v.is_structured(); });
    out += before + (value.is_object() ? "{\n" : "[\n");
    std::string row;
    std::size_t left = value.size();
    for (const auto& item : value.items()) {
        const std::string comma = --left > 0 ? "," : "";
        if (!is_row) {
            const std::string name =
                value.is_object() ? OrderedJson(item.key()).dump() + ": " : std::string();
            append(item.value(), margin + "  " + name, comma, out);
            continue;
        }
        const std::string piece = item.value().dump() + comma;
        if (!row.empty() && row.size() + 1 + piece.size() > kWidth) {
            out += row + "\n";
            row.clear();
        }
        row += (row.empty() ? margin + "  " : std::string(" ")) + piece;
    }
    if (!row.empty()) out += row + "\n";
    out += margin + (value.is_object() ? "}" : "]") + after + "\n";
}

/// One unit in the last decimal that is printed.
double last_unit(const OrderedJson& number) {
    const std::string text = number.dump();
    const std::size_t e = text.find('e');
    const std::size_t point = text.find('.');
    const std::string digits = text.substr(0, e);
    const double decimals =
        point == std::string::npos ? 0.0 : static_cast<double>(digits.size() - point - 1);
    const double exponent = e == std::string::npos ? 0.0 : std::stod(text.substr(e + 1));
    return std::pow(10.0, exponent - decimals);
}

bool is_same_number(const OrderedJson& a, const OrderedJson& b) {
    if (!a.is_number_float() || !b.is_number_float()) return a == b;
    const double x = a.get<double>();
    const double y = b.get<double>();
    const double unit = std::min({last_unit(a), last_unit(b), 1e-4});
    const double share = std::abs(y) < 1.0 ? 1e-6 * std::abs(y) : 0.0;
    return std::abs(x - y) <= std::max(1.01 * unit, share);
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> out;
    std::istringstream stream(text);
    for (std::string line; std::getline(stream, line);) out.push_back(line);
    return out;
}

struct Step {
    char sign;  ///< '-' kept alone, '+' now alone, ' ' in both
    std::size_t kept, now;
};

/// The fewest lines taken away and added.
std::vector<Step> steps(const std::vector<std::string>& a, const std::vector<std::string>& b) {
    std::size_t head = 0;
    while (head < a.size() && head < b.size() && a[head] == b[head]) ++head;
    std::size_t tail = 0;
    while (tail < a.size() - head && tail < b.size() - head &&
           a[a.size() - 1 - tail] == b[b.size() - 1 - tail])
        ++tail;
    const std::size_t n = a.size() - head - tail;
    const std::size_t m = b.size() - head - tail;
    // Longest common part from (i, j) on.
    std::vector<std::vector<std::uint32_t>> common(n + 1, std::vector<std::uint32_t>(m + 1, 0));
    for (std::size_t i = n; i-- > 0;)
        for (std::size_t j = m; j-- > 0;)
            common[i][j] = a[head + i] == b[head + j]
                               ? common[i + 1][j + 1] + 1
                               : std::max(common[i + 1][j], common[i][j + 1]);
    std::vector<Step> out;
    for (std::size_t i = 0; i < head; ++i) out.push_back({' ', i, i});
    std::size_t i = 0;
    std::size_t j = 0;
    while (i < n || j < m) {
        if (i < n && j < m && a[head + i] == b[head + j]) {
            out.push_back({' ', head + i++, head + j++});
        } else if (i < n && (j == m || common[i + 1][j] >= common[i][j + 1])) {
            out.push_back({'-', head + i++, head + j});
        } else {
            out.push_back({'+', head + i, head + j++});
        }
    }
    for (std::size_t k = 0; k < tail; ++k) out.push_back({' ', head + n + k, head + m + k});
    return out;
}

}  // namespace

std::string readable(const OrderedJson& json) {
    std::string out;
    append(json, "", "", out);
    return out;
}

OrderedJson settled(OrderedJson now, const OrderedJson& kept) {
    if (now.is_number() && kept.is_number()) return is_same_number(now, kept) ? kept : now;
    if (now.is_object() && kept.is_object()) {
        for (auto item = now.begin(); item != now.end(); ++item)
            if (kept.contains(item.key())) item.value() = settled(item.value(), kept[item.key()]);
    } else if (now.is_array() && kept.is_array()) {
        for (std::size_t i = 0; i < std::min(now.size(), kept.size()); ++i)
            now[i] = settled(now[i], kept[i]);
    }
    return now;
}

std::string difference(const std::string& kept, const std::string& now, int most_lines) {
    constexpr std::size_t kAround = 2;
    const auto a = lines_of(kept);
    const auto b = lines_of(now);
    const auto all = steps(a, b);
    std::string out;
    int shown = 0;
    int left_out = 0;
    bool is_within = false;
    for (std::size_t k = 0; k < all.size(); ++k) {
        const auto near_begin =
            k < kAround ? all.begin() : all.begin() + static_cast<std::ptrdiff_t>(k - kAround);
        const auto near_end =
            all.begin() + static_cast<std::ptrdiff_t>(std::min(all.size(), k + kAround + 1));
        const bool is_near =
            std::any_of(near_begin, near_end, [](const Step& s) { return s.sign != ' '; });
        if (is_near && shown >= most_lines) {
            ++left_out;
        } else if (is_near) {
            if (!is_within)
                out += "@ line " + std::to_string(all[k].kept + 1) + ", now " +
                       std::to_string(all[k].now + 1) + "\n";
            const std::string& line = all[k].sign == '+' ? b[all[k].now] : a[all[k].kept];
            out += std::string(1, all[k].sign) + " " + line + "\n";
            ++shown;
        }
        is_within = is_near;
    }
    if (left_out > 0) out += "and " + std::to_string(left_out) + " more lines\n";
    // What lines do not show: the end of the last one.
    if (out.empty() && kept != now) out = "the last line ends in another way\n";
    return out;
}

}  // namespace layproof::testing
