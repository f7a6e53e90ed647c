// Descriptions read as shapes: every field of every record, whatever the values are.

#include <algorithm>
#include <utility>

#include "acts/shared/describe.hpp"

namespace layproof::acts {
namespace {

bool is_same(const Shape& a, const Shape& b) {
    return a.kind == b.kind && a.may_be_null == b.may_be_null && a.words == b.words &&
           a.record == b.record &&
           std::equal(a.of.begin(), a.of.end(), b.of.begin(), b.of.end(), is_same);
}

bool is_same_field(const ShapeField& a, const ShapeField& b) {
    return a.name == b.name && a.may_be_absent == b.may_be_absent && a.says == b.says &&
           is_same(a.shape, b.shape);
}

class ShapeFields final : public Fields {
public:
    ShapeFields(bool is_request, std::vector<ShapeRecord>& out)
        : is_request_(is_request), out_(out) {}

    void is(std::string_view record) override { inside_.back().record.name = record; }

protected:
    void put(const Field& field, std::string_view) override { add(field, shape_of(field)); }
    void put(const Field& field, bool) override { add(field, shape_of(field)); }
    void put(const Field& field, std::int64_t) override { add(field, shape_of(field)); }
    void put(const Field& field, double) override { add(field, shape_of(field)); }

    bool open(const Field& field) override {
        inside_.push_back({shape_of(field),
                           std::string(field.name),
                           field.may_be_absent,
                           std::string(field.says),
                           {}});
        return true;
    }

    void close() override {
        Inside closed = std::move(inside_.back());
        inside_.pop_back();
        if (closed.shape.kind == ShapeKind::record) {
            closed.shape.record = closed.record.name;
            add_record(std::move(closed.record));
        }
        add({std::move(closed.name), std::move(closed.shape), closed.may_be_absent,
             std::move(closed.says)});
    }

    /// One sample of each list is enough.
    std::size_t times(std::size_t) const override { return 1; }

private:
    struct Inside {
        Shape shape;
        std::string name;
        bool may_be_absent = false;
        std::string says;
        ShapeRecord record;  ///< of a record
    };

    static Shape shape_of(const Field& field) {
        Shape out;
        out.kind = field.kind;
        out.may_be_null = field.may_be_null;
        out.words.assign(field.words.begin(), field.words.end());
        return out;
    }

    void add(const Field& field, Shape shape) {
        add({std::string(field.name), std::move(shape), field.may_be_absent,
             std::string(field.says)});
    }

    void add(ShapeField field) {
        if (inside_.empty()) return;
        Inside& around = inside_.back();
        if (around.shape.kind == ShapeKind::record) {
            around.record.fields.push_back(std::move(field));
        } else if (around.shape.of.empty()) {
            around.shape.of.push_back(std::move(field.shape));
        }
    }

    void add_record(ShapeRecord record) {
        record.is_request = is_request_;
        const bool is_known = std::any_of(out_.begin(), out_.end(), [&](const ShapeRecord& known) {
            return known.name == record.name && known.is_request == record.is_request &&
                   std::equal(known.fields.begin(), known.fields.end(), record.fields.begin(),
                              record.fields.end(), is_same_field);
        });
        if (!is_known) out_.push_back(std::move(record));
    }

    bool is_request_;
    std::vector<ShapeRecord>& out_;
    std::vector<Inside> inside_;
};

}  // namespace

void collect_shapes(void (*run)(Fields&, const void*), const void* value, bool is_request,
                    std::vector<ShapeRecord>& out) {
    ShapeFields fields(is_request, out);
    run(fields, value);
}

}  // namespace layproof::acts
