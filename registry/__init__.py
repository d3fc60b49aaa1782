"""The register: people, animals, questions, studies, permissions and use."""
