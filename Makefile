# Aliases for those whose fingers know make; run.py does the work.
.PHONY: demo test check docs
demo test check docs:
	python3 run.py $@
