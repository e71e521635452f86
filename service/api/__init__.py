"""The HTTP interface: thin handlers over the desk. Decorators state the contract, the body is a call and a reply."""
