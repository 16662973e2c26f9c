"""TOML -> Policy: the judgement of a house, kept apart from the buses that it is laid over."""

from rs485kit.errors import InputError
from rs485kit.files.reading import Source, located, read_document
from rs485kit.model import Policy
from rs485kit.tables import object_from_table


def load_policy(path_or_stream: Source) -> Policy:
    """Return the policy that a TOML file states.

    Parameters
    ----------
    path_or_stream : str, path-like, or stream
        Path of the file, or a binary or text stream; its keys are those of a bus file's `[bus.policy]` [-].

    Returns
    -------
    Policy
        The policy [-].

    Raises
    ------
    InputError
        If the file cannot be read, is no UTF-8, is too large or too deeply nested, is no TOML, or does not state a
        policy; with every problem of the last kind, each with its place and, where it can be told, its line.
    """
    document = read_document(path_or_stream)
    try:
        return object_from_table(Policy, document.tables, place="")
    except InputError as error:
        raise located(error, document, within="policy") from None
