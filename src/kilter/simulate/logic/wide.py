"""
One row of a block, WORDS words, as a single value inside compiled code.

Left to itself the compiler works a row off word by word, because it cannot rule out that two rows overlap. A value
that holds the whole row says so: a gate becomes a few wide instructions, three to four times faster when measured.
numba is an optional extra; only `kernels` imports this.
"""

# mypy: ignore-errors
# ruff: noqa: ARG001, ARG005
# The bodies are compiler fragments: their arguments are fixed by numba, and their types are not Python's.

import operator

from llvmlite import ir
from numba import types
from numba.core.cgutils import get_or_insert_function
from numba.extending import intrinsic, models, overload, register_model

from kilter.simulate.logic.lanes import WORDS

WORD = ir.IntType(64)
ROW = ir.VectorType(WORD, WORDS)
ALIGNED = 8  # bytes: rows of an array of 64-bit words


class Wide(types.Type):
    """A row of WORDS unsigned 64-bit words."""

    def __init__(self):
        super().__init__(name=f"Wide[{WORDS}]")


wide = Wide()


@register_model(Wide)
class _WideModel(models.PrimitiveModel):
    def __init__(self, manager, kind):
        super().__init__(manager, kind, ROW)


def _address(context, builder, array_type, array, row):
    """Pointer to a row of a C-contiguous (n, WORDS) array."""
    data = context.make_array(array_type)(context, builder, array).data
    first = builder.mul(row, ir.Constant(row.type, WORDS))
    return builder.bitcast(builder.gep(data, [first]), ROW.as_pointer())


def _spread(builder, word):
    """The same word in every place of a row."""
    single = builder.insert_element(ir.Constant(ROW, ir.Undefined), word, ir.Constant(ir.IntType(32), 0))
    zeros = ir.Constant(ir.VectorType(ir.IntType(32), WORDS), [0] * WORDS)
    return builder.shuffle_vector(single, ir.Constant(ROW, ir.Undefined), zeros)


@intrinsic
def load(typing_context, array, row):
    """Row of a C-contiguous (n, WORDS) array of 64-bit words; the row number is not checked."""

    def code(context, builder, signature, arguments):
        array_type, row_type = signature.args
        number = context.cast(builder, arguments[1], row_type, types.int64)
        return builder.load(_address(context, builder, array_type, arguments[0], number), align=ALIGNED)

    return wide(array, row), code


@intrinsic
def store(typing_context, array, row, value):
    """Write a row of a C-contiguous (n, WORDS) array; the row number is not checked."""

    def code(context, builder, signature, arguments):
        array_type, row_type, _ = signature.args
        number = context.cast(builder, arguments[1], row_type, types.int64)
        builder.store(arguments[2], _address(context, builder, array_type, arguments[0], number), align=ALIGNED)
        return context.get_dummy_value()

    return types.void(array, row, value), code


@intrinsic
def spread(typing_context, word):
    """A row with the same word in every place."""
    return wide(types.uint64), lambda context, builder, signature, arguments: _spread(builder, arguments[0])


def _operation(name):
    """A word-by-word operation on two rows."""

    @intrinsic
    def operation(typing_context, left, right):
        def code(context, builder, signature, arguments):
            return getattr(builder, name)(*arguments)

        return wide(wide, wide), code

    return operation


def _overload(python_operator, name):
    operation = _operation(name)

    @overload(python_operator, inline="always")
    def resolve(left, right):
        if isinstance(left, Wide) and isinstance(right, Wide):
            return lambda left, right: operation(left, right)
        return None


for _operator, _name in ((operator.and_, "and_"), (operator.or_, "or_"), (operator.xor, "xor")):
    _overload(_operator, _name)

add = _operation("add")
times = _operation("mul")
shift_right = _operation("lshr")


def _call(builder, name, returned, arguments):
    """Call a compiler intrinsic on one row."""
    function = get_or_insert_function(builder.module, ir.FunctionType(returned, [ROW]), f"{name}.v{WORDS}i64")
    return builder.call(function, arguments)


def _reduction(name):
    @intrinsic
    def reduction(typing_context, row):
        def code(context, builder, signature, arguments):
            return _call(builder, f"llvm.vector.reduce.{name}", WORD, arguments)

        return types.uint64(wide), code

    return reduction


total = _reduction("add")
either = _reduction("or")


@intrinsic
def ones(typing_context, row):
    """Number of ones in each word of a row."""

    def code(context, builder, signature, arguments):
        return _call(builder, "llvm.ctpop", ROW, arguments)

    return wide(wide), code


@intrinsic
def lowest(typing_context, word):
    """Place of the lowest one in a word that has one."""

    def code(context, builder, signature, arguments):
        return builder.cttz(arguments[0], ir.Constant(ir.IntType(1), 1))

    return types.int64(types.uint64), code
