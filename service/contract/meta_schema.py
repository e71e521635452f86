"""Shapes of what the service says about itself."""

from service.contract.answer_parts import Answered, string, whole


class StatusSchema(Answered):
    """A state in a word."""

    status = string()


class ReadySchema(StatusSchema):
    """Ready, and with which engine."""

    engine = string()


class KindSchema(Answered):
    """One kind of problem."""

    type = string()
    title = string()
    status = whole()
    remedy = string(description="What a caller does about it.")
